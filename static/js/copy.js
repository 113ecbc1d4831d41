// The link to a calendar is shown once: a button takes all of it. Without script, or where the browser
// does not let a page copy, the address is there to be marked by hand.

const button = document.getElementById("copy-link");
const address = document.getElementById("link");

if (button && address && navigator.clipboard) {
  button.hidden = false;
  button.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(address.value);
      button.textContent = button.dataset.done;
    } catch {
      address.select();
    }
  });
}
