// A note that is being written stays in this tab until it has arrived: without signal the form waits,
// and says so. It is kept by the tab alone, and for one sign-in.

const form = document.getElementById("write");
const text = form?.querySelector("textarea");

if (text) {
  // The form's token is that of a sign-in: whoever signs in next in this tab finds nothing.
  const draft = [form.elements.csrf.value, form.action, form.elements.about.value].join(" ");
  const waits = document.getElementById("note-waits");
  // The page that says so may be about something else than the note was.
  if (new URLSearchParams(location.search).has("done")) sessionStorage.removeItem(sessionStorage.getItem("sent"));
  text.value ||= sessionStorage.getItem(draft) ?? "";
  text.addEventListener("input", () => sessionStorage.setItem(draft, text.value));
  form.addEventListener("submit", (event) => {
    if (navigator.onLine) return sessionStorage.setItem("sent", draft);
    event.preventDefault();
    waits.hidden = false;
    waits.focus();
  });
  addEventListener("online", () => (waits.hidden = true));
}
