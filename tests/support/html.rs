//! As much of a page as a browser without scripts needs: its links and forms.

use super::client::{Answer, Client};

/// A form of a page, with what it holds.
pub struct Form {
    action: String,
    body: String,
    fields: Vec<(String, String)>,
}

/// The value of an attribute in an opening tag, which begins with a blank.
fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
    rest.split_once('"').map(|(value, _)| value)
}

/// The opening tags of that name, from the blank after it on.
fn tags<'a>(html: &'a str, name: &str) -> Vec<&'a str> {
    let opening = format!("<{name}");
    let after = html.split(&opening).skip(1).filter(|rest| rest.starts_with(' '));
    after.map(|rest| rest.split('>').next().unwrap()).collect()
}

/// What an entity stands for, of those that a template writes.
pub fn plain(text: &str) -> String {
    let entities = [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#34;", "\""),
        ("&#39;", "'"),
        ("&#38;", "&"),
        ("&amp;", "&"),
    ];
    entities
        .iter()
        .fold(text.replace("&#60;", "<").replace("&#62;", ">"), |text, (entity, sign)| {
            text.replace(entity, sign)
        })
}

/// Every address that a page links to.
pub fn links(html: &str) -> Vec<String> {
    let tags = [tags(html, "a"), tags(html, "link")].concat();
    tags.iter().filter_map(|tag| attribute(tag, "href")).map(plain).collect()
}

/// What stands in the larger fields.
fn areas(html: &str) -> impl Iterator<Item = (String, String)> {
    html.split("<textarea").skip(1).filter_map(|rest| {
        let (tag, rest) = rest.split_once('>')?;
        let (text, _) = rest.split_once("</textarea>")?;
        Some((attribute(tag, "name")?.to_owned(), plain(text)))
    })
}

/// The form to send whose action ends so.
#[track_caller]
pub fn form(page: &Answer, action: &str) -> Form {
    form_with(page, action, "")
}

/// The form to send whose action ends so, and that holds that text.
#[track_caller]
pub fn form_with(page: &Answer, action: &str, text: &str) -> Form {
    let forms = page.body.split("<form").skip(1).map(|rest| rest.split_once("</form>").unwrap().0);
    let mut fitting = forms.filter_map(|body| {
        let to = plain(attribute(body, "action")?);
        let sends = attribute(body, "method") == Some("post");
        (sends && to.ends_with(action) && body.contains(text)).then_some((to, body))
    });
    let (action, body) =
        fitting.next().unwrap_or_else(|| panic!("no form to {action}: {}", page.body));
    let field = |tag: &&str| {
        let value = plain(attribute(tag, "value").unwrap_or(""));
        Some((attribute(tag, "name")?.to_owned(), value))
    };
    let chosen =
        |tag: &&&str| ["radio", "checkbox"].contains(&attribute(tag, "type").unwrap_or(""));
    let typed = tags(body, "input");
    let mut fields: Vec<(String, String)> =
        typed.iter().filter(|tag| !chosen(tag)).filter_map(field).collect();
    fields.extend(areas(body));
    Form { action, body: body.to_owned(), fields }
}

impl Form {
    /// Types or chooses a value; the form must have the field.
    #[track_caller]
    pub fn fill(mut self, name: &str, value: &str) -> Self {
        assert!(self.body.contains(&format!(" name=\"{name}\"")), "no field {name}: {}", self.body);
        self.fields.retain(|(other, _)| other != name);
        self.fields.push((name.to_owned(), value.to_owned()));
        self
    }

    /// Adds a field that the page has not, as its script does.
    pub fn add(mut self, name: &str, value: &str) -> Self {
        self.fields.push((name.to_owned(), value.to_owned()));
        self
    }

    /// Leaves a field out, as a forger would.
    pub fn without(mut self, name: &str) -> Self {
        self.fields.retain(|(other, _)| other != name);
        self
    }

    pub fn send(&self, client: &Client) -> Answer {
        let fields: Vec<(&str, &str)> =
            self.fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        client.call("POST", &self.action).form(&fields).send()
    }

    /// Sends, and goes where the answer says.
    #[track_caller]
    pub fn follow(&self, client: &Client) -> Answer {
        let place = self.send(client).expect(303).header("location").to_owned();
        client.get(place.split('#').next().unwrap()).expect(200)
    }
}
