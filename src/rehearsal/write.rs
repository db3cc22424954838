//! Scripted answers as an author writes them.

use super::model::ScriptedAnswer;
use crate::ids::Name;

/// A text in double quotes. JSON's escapes are YAML's too.
pub fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

impl ScriptedAnswer {
    /// The keys that stand beside `at`.
    pub fn keys(&self) -> String {
        let one = |key: &str, text: &str| format!("{key}: {}", quoted(text));
        match self {
            Self::Reading { text, instrument } => {
                format!("reading: {}, using: {}", quoted(text), quoted(instrument))
            }
            Self::CouldNotMeasure(reason) => one("could_not_measure", reason),
            Self::Found(found) => {
                let found: Vec<&str> = found.iter().map(Name::as_str).collect();
                format!("found: [{}]", found.join(", "))
            }
            Self::Entered(text) => one("enter", text),
            Self::NotSo(items) => {
                let items: Vec<String> = items.iter().map(ToString::to_string).collect();
                format!("not_so: [{}]", items.join(", "))
            }
            Self::Decide { verdict, because } => {
                format!("decide: {}, because: {}", verdict.word(), quoted(because))
            }
            Self::Lots(lots) => {
                let lots: Vec<String> =
                    lots.iter().map(|(layer, lot)| format!("{layer}: {}", quoted(lot))).collect();
                format!("lots: {{{}}}", lots.join(", "))
            }
            Self::Settings(settings) => {
                let texts: Vec<String> =
                    settings.settings.iter().map(|text| quoted(text)).collect();
                let using = quoted(&settings.instrument);
                let mut line = format!("settings: [{}], using: {using}", texts.join(", "));
                if let Some(thread) = settings.thread {
                    line.push_str(", thread: ");
                    line.push_str(thread.word());
                }
                line
            }
            Self::Waited(seconds) => one("waited", &format!("{seconds} s")),
            Self::Attach(name) => one("attach", name),
            Self::NothingToAttach(reason) => one("nothing_to_attach", reason),
            Self::LeftOut(reason) => one("left_out", reason),
            Self::DoneOtherwise(reason) => one("done_otherwise", reason),
            Self::Dispose { disposition, lot, because } => {
                let lot = lot.as_ref().map(|lot| format!(", lot: {}", quoted(lot)));
                let (word, because) = (disposition.word(), quoted(because));
                format!("dispose: {word}, because: {because}{}", lot.unwrap_or_default())
            }
            Self::Concede { verdict, because } => {
                format!("concede: {}, because: {}", verdict.word(), quoted(because))
            }
        }
    }
}
