//! The house rules that no compiler keeps: which module may use which, what a module may touch, how
//! long a file may be, what lies at the top level.
//!
//! DEVELOPERS.md says what each module is for; the table here says what it may rest on.

#![expect(clippy::string_slice, reason = "places are found by searching the same text")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// What each module may use: the modules it names, and whatever those may use. A row names only
/// modules of rows above it, so there are no circles.
const MAY_USE: &[(&str, &[&str])] = &[
    ("ids", &[]),
    ("source", &[]),
    ("visible", &[]),
    ("canonical", &[]),
    ("photo", &[]),
    ("address", &["ids"]),
    ("units", &["visible"]),
    ("diag", &["source", "visible"]),
    ("yaml", &["source", "diag"]),
    ("expr", &["units", "source", "diag", "ids", "visible"]),
    ("language", &["yaml", "expr", "address"]),
    ("procedure", &["language"]),
    ("equipment", &["language"]),
    ("shop", &["language"]),
    ("rehearsal", &["procedure"]),
    ("calc", &["units"]),
    ("walk", &["procedure", "equipment", "shop", "calc"]),
    ("lint", &["walk"]),
    ("prove", &["walk", "rehearsal"]),
    ("journal", &["walk", "canonical"]),
    ("record", &["journal"]),
    ("ports", &["ids"]),
    ("store", &["ports", "record"]),
    ("session", &["store", "record", "rehearsal", "prove"]),
    ("rehearse", &["session", "rehearsal"]),
    ("shown", &["session"]),
    ("plain", &["shown"]),
    ("tui", &["shown", "photo"]),
    ("demo", &["session"]),
    ("cli", &["plain", "tui", "demo", "lint", "calc", "rehearse"]),
];

/// Modules that rest on `store` and still must not name it: what they need of the disk, `session`
/// gives them.
const NOT_ITSELF: &[(&str, &str)] = &[("shown", "store"), ("plain", "store"), ("tui", "store")];

/// The rows of the table before `ports`: deterministic, given time and ids as arguments.
fn pure() -> BTreeSet<&'static str> {
    MAY_USE.iter().map(|(module, _)| *module).take_while(|module| *module != "ports").collect()
}

/// What a pure module must not name.
const WORLD: &[&str] = &[
    "std::fs",
    "std::env",
    "std::process",
    "std::thread",
    "std::net",
    "SystemTime",
    "Instant",
    "Utc::now",
    "Local::now",
    "println!",
    "eprintln!",
    "print!",
    "eprint!",
];

/// What only the named modules may name.
const ONLY_IN: &[(&str, &[&str])] = &[
    ("std::fs", &["store"]),
    ("rustix::fs", &["store"]),
    ("std::env", &["cli", "main"]),
    ("std::process::exit", &["cli", "main"]),
];

/// The most lines of a file below `src`.
const N_LINES_MAX: usize = 900;

/// What a person sees at the top level, apart from what is built there and never kept.
const TOP_LEVEL: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "LICENSE",
    "README.md",
    "DEVELOPERS.md",
    "src",
    "procedures",
    "schemas",
    "tests",
    "screenshots",
];
const BUILT: &[&str] = &["target", "witnessmark-demo"];

/// Codes that no line of the program gives yet, each with its reason.
const NOT_GIVEN: &[(&str, &str)] = &[];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every file below `folder`, as paths from the root, sorted.
fn files_below(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![root().join(folder)];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                found.push(path.strip_prefix(root()).unwrap().to_path_buf());
            }
        }
    }
    found.sort();
    found
}

fn text_of(path: &Path) -> String {
    fs::read_to_string(root().join(path)).unwrap()
}

/// A file of the program without comments, texts and tests.
struct Code {
    path: PathBuf,
    /// Its words and marks; a path such as `crate::ids` is one word.
    words: Vec<String>,
}

impl Code {
    /// The module at the top of the crate that the file belongs to.
    fn module(&self) -> String {
        let inner = self.path.strip_prefix("src").unwrap();
        let first = inner.components().next().unwrap();
        Path::new(first.as_os_str()).file_stem().unwrap().to_str().unwrap().to_owned()
    }

    /// How many `super` lead from the file to the crate.
    fn depth(&self) -> usize {
        self.path.strip_prefix("src").unwrap().components().count()
    }

    /// The modules at the top of the crate that the file names.
    fn uses(&self) -> BTreeSet<String> {
        let up = vec!["super"; self.depth()].join("::");
        let mut used = BTreeSet::new();
        for (i, word) in self.words.iter().enumerate() {
            let rest = ["crate", "witnessmark", up.as_str()]
                .into_iter()
                .find_map(|start| word.strip_prefix(start)?.strip_prefix("::"));
            match rest {
                Some("") => used.extend(group(&self.words[i + 1..])),
                Some(path) => used.extend(path.split("::").next().map(str::to_owned)),
                None => {}
            }
        }
        used
    }

    fn names(&self, what: &str) -> bool {
        let macro_name = what.strip_suffix('!');
        self.words.iter().enumerate().any(|(i, word)| match macro_name {
            Some(name) => word == name && self.words.get(i + 1).is_some_and(|next| next == "!"),
            None => format!("::{word}::").contains(&format!("::{what}::")),
        })
    }
}

/// The first words of the paths of a group `{a::b, c::{d, e}}` that starts at `words`.
fn group(words: &[String]) -> Vec<String> {
    let mut firsts = Vec::new();
    let mut depth = 0;
    for (i, word) in words.iter().enumerate() {
        match word.as_str() {
            "{" => depth += 1,
            "}" if depth <= 1 => break,
            "}" => depth -= 1,
            _ if depth == 1 && (words[i - 1] == "{" || words[i - 1] == ",") => {
                firsts.extend(word.split("::").next().map(str::to_owned));
            }
            _ => {}
        }
    }
    firsts
}

/// The length of a quoted text or a character at the start of `rest`; 0 where there is none.
fn len_quoted(rest: &str) -> usize {
    let raw = rest.strip_prefix("br").or_else(|| rest.strip_prefix('r'));
    if let Some(after) = raw {
        let n_hashes = after.len() - after.trim_start_matches('#').len();
        if after[n_hashes..].starts_with('"') {
            let end = format!("\"{}", "#".repeat(n_hashes));
            let from = rest.len() - after.len() + n_hashes + 1;
            return from + rest[from..].find(&end).unwrap() + end.len();
        }
    }
    let mut characters = rest.char_indices();
    match characters.next() {
        Some((_, '"')) => {}
        // A character, or else a lifetime, which has no second mark.
        Some((_, '\'')) => {
            let second = rest[1..].chars().next().unwrap_or('\'');
            if second != '\\' && !rest[1 + second.len_utf8()..].starts_with('\'') {
                return 1;
            }
            if second != '\\' {
                return second.len_utf8() + 2;
            }
        }
        _ => return 0,
    }
    let mark = rest.chars().next().unwrap();
    while let Some((at, c)) = characters.next() {
        if c == '\\' {
            characters.next();
        } else if c == mark {
            return at + 1;
        }
    }
    rest.len()
}

/// Cuts a file into words and marks; comments and texts are left out.
fn words_of(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let is_word = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
        let len = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            rest.find("*/").unwrap() + 2
        } else if len_quoted(rest) > 0 {
            len_quoted(rest)
        } else if is_word(first) {
            let len = rest.find(|c: char| !is_word(c)).unwrap_or(rest.len());
            words.push(rest[..len].to_owned());
            len
        } else {
            if !first.is_whitespace() {
                words.push(first.to_string());
            }
            first.len_utf8()
        };
        rest = &rest[len..];
    }
    words
}

/// Leaves out what stands under `#[cfg(test)]`.
fn without_tests(words: &[String]) -> Vec<String> {
    let mark = ["#", "[", "cfg", "(", "test", ")", "]"];
    let mut kept = Vec::new();
    let mut rest = words;
    while let Some(word) = rest.first() {
        if !rest.iter().take(mark.len()).map(String::as_str).eq(mark) {
            kept.push(word.clone());
            rest = &rest[1..];
            continue;
        }
        let mut depth = 0_u32;
        let end = rest.iter().position(|word| {
            depth += u32::from(word == "{");
            depth -= u32::from(word == "}");
            depth == 0 && (word == ";" || word == "}")
        });
        rest = &rest[end.unwrap() + 1..];
    }
    kept
}

/// Every file of the program that is not a test.
fn program() -> Vec<Code> {
    let is_code = |path: &PathBuf| {
        let name = path.file_name().unwrap().to_str().unwrap();
        path.extension().is_some_and(|e| e == "rs") && !name.ends_with("_tests.rs")
    };
    let read = |path: PathBuf| {
        let words = without_tests(&words_of(&text_of(&path)));
        Code { path, words }
    };
    files_below("src").into_iter().filter(is_code).map(read).collect()
}

/// Everything that each module may use, itself included.
fn allowed() -> BTreeMap<&'static str, BTreeSet<&'static str>> {
    let mut all: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (module, named) in MAY_USE {
        let mut may = BTreeSet::from([*module]);
        for below in *named {
            may.extend(all.get(below).unwrap_or_else(|| {
                panic!("the row of `{module}` names `{below}`, which has no row above it")
            }));
        }
        all.insert(module, may);
    }
    for (module, other) in NOT_ITSELF {
        all.get_mut(module).unwrap().remove(other);
    }
    all
}

fn assert_none(rule: &str, broken: &[String]) {
    assert!(broken.is_empty(), "{rule}:\n  {}", broken.join("\n  "));
}

#[test]
fn modules_use_only_what_lies_below_them() {
    let allowed = allowed();
    let mut broken = Vec::new();
    for code in program() {
        let module = code.module();
        let may = match module.as_str() {
            "lib" => continue,
            "main" => BTreeSet::from(["cli"]),
            other => allowed
                .get(other)
                .unwrap_or_else(|| panic!("`{other}` has no row in MAY_USE; give it one"))
                .clone(),
        };
        let path = code.path.display().to_string();
        let above = code.uses().into_iter().filter(|used| !may.contains(used.as_str()));
        broken.extend(above.map(|used| format!("{path} uses `{used}`, and `{module}` may not")));
    }
    assert_none("a module rests on one that it may not rest on", &broken);
}

#[test]
fn every_row_of_the_table_is_a_module() {
    let modules: BTreeSet<String> = program().iter().map(Code::module).collect();
    let gone: Vec<String> = MAY_USE
        .iter()
        .filter(|(module, _)| !modules.contains(*module))
        .map(|(module, _)| format!("`{module}`"))
        .collect();
    assert_none("rows of MAY_USE without a module", &gone);
}

#[test]
fn pure_modules_touch_nothing_of_the_world() {
    let pure = pure();
    let mut broken = Vec::new();
    for code in program() {
        let module = code.module();
        let path = code.path.display();
        if pure.contains(module.as_str()) {
            let named = WORLD.iter().filter(|what| code.names(what));
            broken.extend(named.map(|what| format!("{path} names `{what}`")));
        }
        let outside = ONLY_IN.iter().filter(|(_, modules)| !modules.contains(&module.as_str()));
        let named = outside.filter(|(what, _)| code.names(what));
        broken
            .extend(named.map(|(what, only)| format!("{path} names `{what}`, only {only:?} may")));
    }
    broken.sort();
    broken.dedup();
    assert_none("a module touches what is not its own", &broken);
}

/// Functions of `f64` that not every processor and library rounds alike.
const NOT_ALIKE: &[&str] = &[
    "sqrt", "cbrt", "hypot", "powf", "powi", "exp", "exp2", "exp_m1", "ln", "ln_1p", "log", "log2",
    "log10", "sin", "cos", "tan", "sin_cos", "asin", "acos", "atan", "atan2", "sinh", "cosh",
    "tanh", "mul_add",
];

#[test]
fn calculations_give_the_same_bits_everywhere() {
    let mut broken = Vec::new();
    for code in program().into_iter().filter(|code| code.module() == "calc") {
        let calls = code.words.windows(2).filter(|pair| pair[0] == ".").map(|pair| &pair[1]);
        let not_alike = calls.filter(|call| NOT_ALIKE.contains(&call.as_str()));
        let path = code.path.display().to_string();
        broken.extend(not_alike.map(|call| format!("{path} calls `{call}`; take it from `libm`")));
    }
    assert_none("a calculation rests on the processor's own rounding", &broken);
}

#[test]
fn files_say_what_they_are_for_and_stay_short() {
    let mut broken = Vec::new();
    for path in files_below("src").into_iter().chain(files_below("tests/it")) {
        if path.extension().is_none_or(|ending| ending != "rs") {
            continue;
        }
        let text = text_of(&path);
        let n_lines = text.lines().count();
        if !text.starts_with("//! ") {
            broken.push(format!("{} does not start with `//!` and what it is for", path.display()));
        }
        if n_lines > N_LINES_MAX {
            broken.push(format!("{} has {n_lines} lines; split it by noun", path.display()));
        }
    }
    assert_none("files", &broken);
}

#[test]
fn the_top_level_holds_what_people_look_for() {
    let mut other = Vec::new();
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().to_str().unwrap().to_owned();
        let known = [TOP_LEVEL, BUILT].concat().contains(&name.as_str());
        if !name.starts_with('.') && !known {
            other.push(name);
        }
    }
    assert_none("move these elsewhere, or let their names begin with a dot", &other);
    for name in ["LICENSE", "README.md", "DEVELOPERS.md"] {
        assert!(root().join(name).is_file(), "`{name}` is missing");
    }
}

/// Put together here, so that this file does not hold them itself.
fn unwanted() -> Vec<String> {
    let words = [["/wo", "rk/"], ["/ro", "ot/"], ["TO", "DO"], ["FIX", "ME"]];
    words.iter().map(|halves| halves.concat()).collect()
}

#[test]
fn no_file_holds_paths_of_one_machine_or_unfinished_business() {
    let mut paths: Vec<PathBuf> = Vec::new();
    for entry in fs::read_dir(root()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if BUILT.contains(&name.as_str()) || name == ".git" {
            continue;
        }
        if path.is_dir() {
            paths.extend(files_below(&name));
        } else {
            paths.push(PathBuf::from(name));
        }
    }
    let mut broken = Vec::new();
    for path in paths {
        // What is no text holds no words.
        let Ok(text) = String::from_utf8(fs::read(root().join(&path)).unwrap()) else { continue };
        for word in unwanted() {
            let at = text.lines().position(|line| line.contains(&word));
            broken.extend(at.map(|i| format!("{}:{} holds `{word}`", path.display(), i + 1)));
        }
    }
    assert_none("unwanted words", &broken);
}

#[test]
fn every_code_is_given_somewhere() {
    let mut given: BTreeSet<String> = BTreeSet::new();
    for code in program().iter().filter(|code| !code.path.ends_with("diag/codes.rs")) {
        for word in &code.words {
            given.extend(word.split_once("Code::").map(|(_, name)| name.to_owned()));
        }
    }
    let all = witnessmark::diag::Code::ALL.iter().map(|code| format!("{code:?}"));
    let known: BTreeSet<&str> = NOT_GIVEN.iter().map(|(name, _)| *name).collect();
    let silent: Vec<String> = all
        .filter(|name| given.contains(name) == known.contains(name.as_str()))
        .map(|name| format!("`{name}`"))
        .collect();
    assert_none("codes that are never given, or are given and listed as not given", &silent);
}

#[test]
fn the_reader_of_code_sees_paths_and_nothing_else() {
    let text = r##"
        //! crate::comment
        use crate::ids::{Name, Role};
        use crate::{units, expr::{Path, Expr}, walk::Address as _};
        fn a<'a>(x: &'a str) -> char { let _ = "crate::text \" "; let _ = r#"crate::"raw"#; '"' }
        fn b() { super::super::source::Source::new(); let _ = '\''; crate::diag::of(println!("x")) }
        #[cfg(test)]
        mod tests { use crate::store; fn c() { if true { crate::cli } } }
        #[cfg(test)]
        #[path = "a_tests.rs"]
        mod more;
        fn d() { std::fs::read() }
    "##;
    let words = without_tests(&words_of(text));
    let code = Code { path: PathBuf::from("src/walk/flow.rs"), words };
    let used: Vec<String> = code.uses().into_iter().collect();
    assert_eq!(used, ["diag", "expr", "ids", "source", "units", "walk"]);
    assert!(code.names("println!") && code.names("std::fs") && !code.names("std::env"));
    assert!(!code.names("print!"));
    assert_eq!((code.module().as_str(), code.depth()), ("walk", 2));
}

/// The cells of the rows of a table in Markdown whose first cell is a word in backticks or a number.
fn rows_of(text: &str) -> Vec<Vec<String>> {
    let cells = |line: &str| line.split('|').map(|c| c.trim().to_owned()).collect::<Vec<_>>();
    text.lines().filter(|line| line.starts_with('|')).map(cells).collect()
}

#[test]
fn the_code_map_of_developers_is_the_table_of_this_test() {
    let text = text_of(Path::new("DEVELOPERS.md"));
    let (_, map) = text.split_once("## Code map").unwrap();
    let map = map.split_once("\n## ").unwrap().0;
    let told: Vec<(String, String)> = rows_of(map)
        .into_iter()
        .filter(|cells| cells[1].starts_with('`'))
        .map(|cells| (cells[1].trim_matches('`').to_owned(), cells[3].clone()))
        .collect();
    let held: Vec<(String, String)> =
        MAY_USE.iter().map(|(module, may)| ((*module).to_owned(), may.join(" "))).collect();
    assert_eq!(told, held);
}

#[test]
fn the_readme_lists_every_exit_status() {
    let readme = text_of(Path::new("README.md"));
    let told: BTreeSet<String> =
        rows_of(&readme).into_iter().map(|cells| cells[1].clone()).collect();
    let text = text_of(Path::new("src/cli/exit.rs"));
    let statuses = text.lines().filter_map(|line| {
        let (name, status) = line.strip_prefix("pub const ")?.split_once(": u8 = ")?;
        Some((name, status.trim_end_matches(';')))
    });
    let untold: Vec<String> = statuses
        .filter(|(_, status)| !told.contains(*status))
        .map(|(name, status)| format!("{name}, {status}"))
        .collect();
    assert_none("statuses that README.md does not list", &untold);
}
