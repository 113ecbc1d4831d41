use std::collections::BTreeMap;
use std::net::SocketAddr;

use ureq::Agent;
use ureq::http::{HeaderMap, Request};

/// A browser without a screen: keeps cookies, and fills in the token of the last page's forms.
#[derive(Debug, Clone)]
pub struct Actor {
    agent: Agent,
    server: SocketAddr,
    cookies: BTreeMap<String, String>,
    csrf: String,
}

/// What the server answered. Redirects are answers too.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The HTTP status.
    pub status: u16,
    /// The headers.
    pub headers: HeaderMap,
    /// The body, as text.
    pub body: String,
    /// How many bytes of a body came over the wire.
    pub bytes: usize,
}

impl Answer {
    /// A header's text; empty if it is absent.
    #[must_use]
    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default()
    }

    /// Where it sends the browser on to; empty if it does not.
    #[must_use]
    pub fn location(&self) -> &str {
        self.header("location")
    }

    /// Fails the test unless the status is this one; shows the body's text otherwise.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}", self.words());
        self
    }

    /// The page's text without its tags, for messages of failed tests.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = String::new();
        let mut inside = false;
        for c in self.body.chars() {
            match c {
                '<' => inside = true,
                '>' => {
                    inside = false;
                    words.push(' ');
                }
                c if !inside => words.push(c),
                _ => {}
            }
        }
        words.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// The value of the first hidden or shown field of a name on the page, unescaped.
    #[must_use]
    pub fn field(&self, name: &str) -> Option<String> {
        let at = self.body.find(&format!("name=\"{name}\""))?;
        let tag_start = self.body[..at].rfind('<')?;
        let tag = &self.body[tag_start..tag_start + self.body[tag_start..].find('>')?];
        let value = tag.split_once("value=\"")?.1.split_once('"')?.0;
        Some(unescaped(value))
    }

    /// What a browser would send of the page's main form as it stands: hidden fields, texts, ticks and chosen
    /// options, without text areas, buttons and the token.
    ///
    /// # Panics
    /// Where the page has no main part, or a field has no name.
    #[must_use]
    pub fn main_form(&self) -> Vec<(String, String)> {
        let main = self.body.split_once("<main").expect("a page").1;
        let mut fields = Vec::new();
        let mut select = None;
        for tag in main.split('<').skip(1) {
            let attribute = |name: &str| {
                let value = tag.split_once(&format!(" {name}=\""))?.1;
                Some(unescaped(value.split_once('"')?.0))
            };
            let is_sent = tag.starts_with("input")
                && (matches!(attribute("type").as_deref(), Some("hidden" | "text"))
                    || tag.contains(" checked"));
            if is_sent {
                let value = attribute("value").expect("a value");
                fields.push((attribute("name").expect("a name"), value));
            } else if tag.starts_with("select") {
                select = attribute("name");
            } else if tag.starts_with("option") && tag.contains(" selected") {
                let name = select.clone().expect("an option in a select");
                fields.push((name, attribute("value").expect("a value")));
            }
        }
        fields.retain(|(name, _)| name != "csrf");
        fields
    }
}

/// Undoes what the templates do to a text on its way into the page.
fn unescaped(html: &str) -> String {
    [
        ("&#60;", "<"),
        ("&#62;", ">"),
        ("&#34;", "\""),
        ("&#39;", "'"),
        ("&#38;", "&"),
    ]
    .iter()
    .fold(html.to_owned(), |text, (escape, plain)| {
        text.replace(escape, plain)
    })
}

impl Actor {
    pub(crate) fn new(server: SocketAddr) -> Self {
        let agent = Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            // A server that refuses a form unread closes the connection behind it.
            .max_idle_connections(0)
            .build()
            .into();
        Self {
            agent,
            server,
            cookies: BTreeMap::new(),
            csrf: String::new(),
        }
    }

    pub(crate) fn signed_in(mut self, cookie: &str, csrf: &str) -> Self {
        self.cookies
            .insert("leverbook".to_owned(), cookie.to_owned());
        csrf.clone_into(&mut self.csrf);
        self
    }

    /// The value of a cookie.
    #[must_use]
    pub fn cookie(&self, name: &str) -> Option<&str> {
        self.cookies.get(name).map(String::as_str)
    }

    /// Puts a cookie in, as somebody who stole or planted one would.
    pub fn set_cookie(&mut self, name: &str, value: &str) {
        self.cookies.insert(name.to_owned(), value.to_owned());
    }

    /// The token that the next form will carry.
    #[must_use]
    pub fn csrf(&self) -> &str {
        &self.csrf
    }

    /// Asks for a page.
    pub fn get(&mut self, path: &str) -> Answer {
        self.send("GET", path, &[], &[])
    }

    /// Sends a form, with the token of the last page.
    pub fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let csrf = self.csrf.clone();
        let mut all = vec![("csrf", csrf.as_str())];
        all.extend_from_slice(fields);
        self.post_without_token(path, &all)
    }

    /// Sends a form with nothing added.
    pub fn post_without_token(&mut self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let body = form_urlencoded::Serializer::new(String::new())
            .extend_pairs(fields)
            .finish();
        let kind = [("content-type", "application/x-www-form-urlencoded")];
        self.send("POST", path, &kind, body.as_bytes())
    }

    /// Sends a form with a file in it, with the token of the last page.
    pub fn post_file(
        &mut self,
        path: &str,
        fields: &[(&str, &str)],
        (field, name, content): (&str, &str, &[u8]),
    ) -> Answer {
        const EDGE: &str = "edge-of-a-part-7f3a9c";
        let csrf = self.csrf.clone();
        let mut body = Vec::new();
        for (name, value) in [("csrf", csrf.as_str())].iter().chain(fields) {
            body.extend_from_slice(
                format!(
                    "--{EDGE}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n"
                )
                .as_bytes(),
            );
        }
        body.extend_from_slice(
            format!("--{EDGE}\r\nContent-Disposition: form-data; name=\"{field}\"; filename=\"{name}\"\r\nContent-Type: application/octet-stream\r\n\r\n")
                .as_bytes(),
        );
        body.extend_from_slice(content);
        body.extend_from_slice(format!("\r\n--{EDGE}--\r\n").as_bytes());
        let kind = format!("multipart/form-data; boundary={EDGE}");
        self.send("POST", path, &[("content-type", &kind)], &body)
    }

    /// Sends anything, and keeps the cookies and the token that come back.
    ///
    /// # Panics
    /// If the server does not answer.
    pub fn send(
        &mut self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> Answer {
        let mut request = Request::builder()
            .method(method)
            .uri(format!("http://{}{path}", self.server));
        if !self.cookies.is_empty() {
            let cookies: Vec<String> = self
                .cookies
                .iter()
                .map(|(name, value)| format!("{name}={value}"))
                .collect();
            request = request.header("cookie", cookies.join("; "));
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request.body(body).expect("a request");
        let mut response = self.agent.run(request).expect("the server answers");
        let body = response.body_mut().read_to_vec().expect("a whole body");
        let answer = Answer {
            status: response.status().as_u16(),
            headers: response.headers().clone(),
            body: String::from_utf8_lossy(&body).into_owned(),
            bytes: body.len(),
        };
        self.keep(&answer);
        answer
    }

    fn keep(&mut self, answer: &Answer) {
        for cookie in answer.headers.get_all("set-cookie") {
            let cookie = cookie.to_str().expect("cookies are plain");
            let (name, value) = cookie
                .split(';')
                .next()
                .and_then(|pair| pair.split_once('='))
                .expect("a cookie has a name and a value");
            if cookie.contains("Max-Age=0") {
                self.cookies.remove(name);
            } else {
                self.cookies.insert(name.to_owned(), value.to_owned());
            }
        }
        if let Some(token) = answer.field("csrf") {
            self.csrf = token;
        }
    }
}
