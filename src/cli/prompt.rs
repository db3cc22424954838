//! Asking for a passphrase: hidden on a terminal, one line of standard input elsewhere.

use std::io::{self, BufRead as _, IsTerminal as _};

use zeroize::Zeroizing;

use super::report::{Failure, Kind};

/// The passphrase of `who`, or a failure that says that none was given.
pub(super) fn passphrase(who: &str, why: &str) -> Result<Zeroizing<String>, Failure> {
    let none = || {
        Failure::new(Kind::Refused, format!("no passphrase was given for {who}; nothing is signed"))
            .hint("type it when asked, or give it as a line of standard input")
    };
    if io::stdin().is_terminal() {
        let typed = rpassword::prompt_password(format!("passphrase of {who}, {why}: "));
        return typed.map(Zeroizing::new).map_err(|_closed| none());
    }
    let mut line = Zeroizing::new(String::new());
    match io::stdin().lock().read_line(&mut line) {
        Ok(n) if n > 0 => Ok(Zeroizing::new(line.trim_end_matches(['\r', '\n']).to_owned())),
        _ => Err(none()),
    }
}
