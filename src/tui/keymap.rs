//! What keys mean: one table for each screen, which also makes the foot line and the help.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use super::model::{Choosing, LineFor, Model, Overlay, Screen, Way, options};
use super::view::{self, Fit};
use crate::visible::is_hidden;

/// A key as far as it is told apart here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Press {
    /// The key.
    pub code: KeyCode,
    /// With the control key held.
    pub ctrl: bool,
}

impl Press {
    /// The key of `event`; `None` for releases and repeats, and for keys with other modifiers.
    pub fn of(event: &KeyEvent) -> Option<Self> {
        if event.kind != KeyEventKind::Press {
            return None;
        }
        let rest = event.modifiers - KeyModifiers::SHIFT - KeyModifiers::CONTROL;
        let alt_gr = event.modifiers.contains(KeyModifiers::CONTROL | KeyModifiers::ALT);
        if alt_gr && let KeyCode::Char(_) = event.code {
            return Some(Self { code: event.code, ctrl: false });
        }
        if !rest.is_empty() {
            return None;
        }
        let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
        let code = match event.code {
            KeyCode::Char(c) if ctrl => KeyCode::Char(c.to_ascii_lowercase()),
            code => code,
        };
        Some(Self { code, ctrl })
    }

    const fn plain(code: KeyCode) -> Self {
        Self { code, ctrl: false }
    }

    const fn letter(c: char) -> Self {
        Self::plain(KeyCode::Char(c))
    }

    const fn control(c: char) -> Self {
        Self { code: KeyCode::Char(c), ctrl: true }
    }
}

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Move {
    /// Go on, with what is picked or typed.
    Go,
    /// The safety text is read.
    Read,
    /// It is so.
    Yes,
    /// It is not so.
    No,
    /// Pick a line of a list, from 0.
    Pick(usize),
    /// One row up.
    Up,
    /// One row down.
    Down,
    /// One page up.
    PageUp,
    /// One page down.
    PageDown,
    /// There is no reading.
    CouldNot,
    /// Another instrument.
    Instruments,
    /// The adapter on the wrench.
    Adapter,
    /// The thread: dry or oiled.
    Thread,
    /// What the wrench showed.
    Shown,
    /// A fastener was loosened.
    Loosened,
    /// A fastener is checked again.
    Recheck,
    /// Answer anew.
    Correct,
    /// Sign for one's own work.
    Sign,
    /// Save again.
    Retry,
    /// Leave the step out, or do it otherwise.
    Deviate,
    /// Another verdict than that of the rules.
    Concede,
    /// Say what was done about a failed result.
    Dispose,
    /// A photo or file beside the step.
    Evidence,
    /// Look at a photo.
    Photo,
    /// Stop the work and make the machine safe.
    Halt,
    /// Pause.
    Pause,
    /// What is answered here was seen earlier.
    Late,
    /// The outline.
    Outline,
    /// The job sheet.
    Sheet,
    /// The machine's earlier jobs.
    History,
    /// A new job.
    New,
    /// A note.
    Note,
    /// Save the note.
    SaveNote,
    /// Somebody else goes on.
    Who,
    /// The keys.
    Help,
    /// One back.
    Back,
    /// Leave.
    Leave,
    /// Put the program to sleep, as shells do.
    Suspend,
    /// A character of text.
    Type(char),
    /// Take away the character before the cursor.
    Erase,
    /// Take away the character under the cursor.
    Delete,
    /// Empty the line.
    Clear,
    /// The cursor one to the left.
    Left,
    /// The cursor one to the right.
    Right,
    /// The cursor to the start.
    Home,
    /// The cursor to the end.
    End,
}

impl Move {
    /// True for moves that answer something. Only these are kept from a key that is held.
    pub fn answers(self) -> bool {
        matches!(
            self,
            Self::Go
                | Self::Read
                | Self::Yes
                | Self::No
                | Self::Retry
                | Self::SaveNote
                | Self::CouldNot
                | Self::Sign
        )
    }
}

/// One line of a key table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Binding {
    /// The keys, the named one first.
    pub keys: Vec<Press>,
    /// How the key is called.
    pub label: String,
    /// What it does.
    pub says: &'static str,
    /// The same in less words, for the foot line.
    pub short: Option<&'static str>,
    /// The same in a narrow foot line.
    pub brief: Option<&'static str>,
    /// What it asks for.
    pub what: Move,
    /// True where it stands in the foot line.
    pub in_foot: bool,
}

fn bind(keys: &[Press], label: &str, says: &'static str, what: Move) -> Binding {
    let (keys, label) = (keys.to_vec(), label.to_owned());
    Binding { keys, label, says, short: None, brief: None, what, in_foot: true }
}

impl Binding {
    /// Says it in less words in the foot line.
    fn short(mut self, short: &'static str) -> Self {
        self.short = Some(short);
        self
    }

    /// Says it in the least words in a narrow foot line.
    fn brief(mut self, brief: &'static str) -> Self {
        self.brief = Some(brief);
        self
    }

    /// What a narrow foot line says.
    pub fn in_brief(&self) -> &'static str {
        self.brief.unwrap_or(self.in_short())
    }

    /// What the foot line says.
    pub fn in_short(&self) -> &'static str {
        self.short.unwrap_or(self.says)
    }

    fn out_of_foot(mut self) -> Self {
        self.in_foot = false;
        self
    }

    /// Stands in no help either.
    fn unsaid(mut self) -> Self {
        self.says = "";
        self
    }

    /// How much it is needed in the foot line, the most needed first: what answers, the way to safety,
    /// the way back and to all keys, the other ways to answer, the rest.
    pub fn need(&self) -> u8 {
        match self.what {
            Move::Go
            | Move::Read
            | Move::Yes
            | Move::No
            | Move::Pick(_)
            | Move::Retry
            | Move::SaveNote
            | Move::Thread
            | Move::New
            | Move::Dispose => 0,
            Move::Halt => 1,
            Move::Help | Move::Back | Move::Down => 2,
            Move::Up
            | Move::CouldNot
            | Move::Instruments
            | Move::Adapter
            | Move::Shown
            | Move::Correct
            | Move::Loosened
            | Move::Recheck
            | Move::Photo
            | Move::Concede
            | Move::Sign => 3,
            _ => 4,
        }
    }
}

/// The move that `press` asks for on the screen as it is.
pub fn lookup(model: &Model, press: Press) -> Option<Move> {
    // Some terminals send this for the key that erases.
    if press == Press::control('h') {
        return model.is_typing().then_some(Move::Erase);
    }
    if let Some(found) = table(model).into_iter().find(|b| b.keys.contains(&press)) {
        return Some(found.what);
    }
    if press == ESC {
        return Some(Move::Back);
    }
    if !model.is_typing() || press.ctrl && press.code != KeyCode::Char('u') {
        return None;
    }
    match press.code {
        KeyCode::Char('u') if press.ctrl => Some(Move::Clear),
        // What cannot be seen is not typed either.
        KeyCode::Char(c) if !is_hidden(c) => Some(Move::Type(c)),
        KeyCode::Backspace => Some(Move::Erase),
        KeyCode::Delete => Some(Move::Delete),
        KeyCode::Left => Some(Move::Left),
        KeyCode::Right => Some(Move::Right),
        KeyCode::Home => Some(Move::Home),
        KeyCode::End => Some(Move::End),
        _ => None,
    }
}

const ENTER: Press = Press::plain(KeyCode::Enter);
const ESC: Press = Press::plain(KeyCode::Esc);
const UP: Press = Press::plain(KeyCode::Up);
const DOWN: Press = Press::plain(KeyCode::Down);

/// The keys that work on the screen as it is, most needed first.
pub fn table(model: &Model) -> Vec<Binding> {
    let mut keys = if model.hand.unsaved.is_some() {
        vec![
            bind(&[Press::letter('r'), Press::control('r')], "r", "save it again", Move::Retry),
            bind(&[Press::letter('q'), Press::control('q')], "q", "leave", Move::Leave),
        ]
    } else if let Some(overlay) = model.overlays.last() {
        let typing = model.is_typing();
        let mut keys = overlay_keys(model, overlay);
        if may_halt(model) {
            keys.push(command(typing, 's', "STOP", Move::Halt));
        }
        if !matches!(overlay, Overlay::Help { .. } | Overlay::TakeUp { .. }) && model.pages() {
            keys.extend(page_keys());
        }
        if !matches!(overlay, Overlay::Help { .. } | Overlay::Leave) {
            keys.push(help_key(typing));
        }
        if let Overlay::TakeUp { .. } = overlay {
            keys.push(command(typing, 'w', "who", Move::Who));
            keys.push(command(typing, 'q', "leave", Move::Leave));
        }
        keys
    } else {
        screen_keys(model)
    };
    keys.push(bind(&[Press::control('z')], "ctrl-z", "to the shell", Move::Suspend).out_of_foot());
    let leave = [Press::control('c'), Press::control('q')];
    keys.push(bind(&leave, "ctrl-q", "leave; the job stays", Move::Leave).out_of_foot());
    keys
}

/// The way to all keys, also where letters are text.
fn help_key(typing: bool) -> Binding {
    let [letter, control, function] =
        [Press::letter('?'), Press::control('k'), Press::plain(KeyCode::F(1))];
    if typing {
        bind(&[control, function], "ctrl-k", "keys", Move::Help)
    } else {
        bind(&[letter, control, function], "?", "keys", Move::Help)
    }
}

/// True while somebody works on a step, so that the work can be stopped.
fn may_halt(model: &Model) -> bool {
    let shown = &model.shown;
    let stopping = matches!(
        model.overlays.last(),
        Some(
            Overlay::Line { what: LineFor::Halt, .. }
                | Overlay::Choice { what: Choosing::Halt(_), .. }
        )
    );
    shown.who.is_some() && shown.question().is_some() && shown.halted.is_none() && !stopping
}

/// Up and down, where there is more than is seen; the foot line has the one that leads on.
fn scrolling(fit: Fit) -> Vec<Binding> {
    let (above, below) = (fit.above(), fit.below());
    if !above && !below {
        return Vec::new();
    }
    let down = bind(&[DOWN, Press::letter(' ')], "down", "more", Move::Down);
    let up = bind(&[UP], "up", "back", Move::Up);
    let mut keys = vec![
        if below { down } else { down.out_of_foot() },
        if below { up.out_of_foot() } else { up },
    ];
    keys.extend(page_keys());
    keys
}

fn page_keys() -> [Binding; 2] {
    let page = |key, label, says, what| bind(&[Press::plain(key)], label, says, what).out_of_foot();
    [
        page(KeyCode::PageDown, "page down", "a page on", Move::PageDown),
        page(KeyCode::PageUp, "page up", "a page back", Move::PageUp),
    ]
}

fn overlay_keys(model: &Model, overlay: &Overlay) -> Vec<Binding> {
    let back = bind(&[ESC], "esc", "back", Move::Back);
    match overlay {
        Overlay::Help { .. } => {
            let mut keys = vec![bind(&[ESC, ENTER, Press::letter('?')], "esc", "back", Move::Back)];
            keys.extend(scrolling(view::fit(model)));
            keys
        }
        Overlay::Leave => vec![
            bind(&[Press::letter('y')], "y", "leave", Move::Yes),
            bind(&[Press::letter('n'), ESC], "n", "stay", Move::Back),
        ],
        Overlay::TakeUp { .. } => {
            let looked = [Press::letter('r'), Press::letter('R')];
            let mut keys = vec![bind(&looked, "r", "I have looked", Move::Read).brief("looked")];
            keys.extend(scrolling(view::fit(model)));
            keys
        }
        Overlay::Sure { .. } => {
            vec![bind(&[Press::letter('y')], "y", "yes, that is so", Move::Yes), back]
        }
        Overlay::Choice { options, .. } => choose_keys(options.len(), back),
        Overlay::People { people, .. } => choose_keys(people.len(), back),
        Overlay::Instruments { .. } => {
            let n = model.answering().map_or(0, |(q, ..)| q.usable_instruments().len());
            choose_keys(n, back)
        }
        Overlay::Passphrase { .. } => {
            vec![bind(&[ENTER], "enter", "sign", Move::Go), back]
        }
        Overlay::Line { what: LineFor::Evidence, .. } => {
            let tab = [Press::plain(KeyCode::Tab)];
            let look = bind(&tab, "tab", "look at it", Move::Photo);
            vec![bind(&[ENTER], "enter", "attach it", Move::Go), look, back]
        }
        Overlay::Line { .. } => vec![bind(&[ENTER], "enter", "go on", Move::Go), back],
        Overlay::Photo(shown) => {
            let mut keys = vec![bind(&[ESC, ENTER], "esc", "back", Move::Back)];
            if shown.all.len() > 1 {
                let next = [DOWN, Press::plain(KeyCode::Right), Press::letter(' ')];
                keys.push(bind(&next, "down", "the next", Move::Down));
                let before = [UP, Press::plain(KeyCode::Left)];
                keys.push(bind(&before, "up", "the one before", Move::Up));
            }
            keys
        }
        Overlay::Note(_) => vec![
            bind(&[Press::control('r')], "ctrl-r", "save the note", Move::SaveNote),
            bind(&[ENTER], "enter", "new line", Move::Go).out_of_foot(),
            bind(&[UP], "up", "a line up", Move::Up).out_of_foot(),
            bind(&[DOWN], "down", "a line down", Move::Down).out_of_foot(),
            bind(&[ESC], "esc", "back; it is kept", Move::Back).short("back"),
        ],
    }
}

/// A list of `n` things to choose from.
fn choose_keys(n: usize, back: Binding) -> Vec<Binding> {
    let mut keys = list_keys(n);
    if n > 0 {
        keys.push(bind(&[ENTER], "enter", "this one", Move::Go).brief("take"));
    }
    keys.push(back);
    keys
}

/// Digits and arrows for a list of `n` rows. The first digit speaks for the others; rows that no digit
/// reaches are reached with the arrows.
fn list_keys(n: usize) -> Vec<Binding> {
    if n == 0 {
        return Vec::new();
    }
    let label = if n == 1 { "1".to_owned() } else { format!("1-{}", n.min(9)) };
    let pick = bind(&[Press::letter('1')], &label, "pick", Move::Pick(0));
    let [mut up, mut down] = [
        bind(&[UP], "up", "one up", Move::Up).out_of_foot(),
        bind(&[DOWN], "down", "one down", Move::Down).out_of_foot(),
    ];
    if n > 9 {
        (up.says, down.says) = ("one up", "one down; rows from 10 on are reached so");
        down = down.short("10 and on");
        down.in_foot = true;
    }
    // The only row of a list is picked as it comes up.
    let pick = if n == 1 { pick.out_of_foot() } else { pick };
    let mut keys = vec![pick, up, down];
    for (index, digit) in ('2'..='9').enumerate().take(n - 1) {
        let key = bind(&[Press::letter(digit)], "", "", Move::Pick(index + 1));
        keys.push(key.out_of_foot());
    }
    keys
}

/// The keys of the bench, on a page of `n` rows; `over` is how what lies over it fits.
pub fn bench_keys(page: &super::bench::Page, n: usize, over: Option<Fit>) -> Vec<Binding> {
    use super::bench::Page;
    let mut keys = Vec::new();
    if let Some(fit) = over {
        keys.push(bind(&[ESC, ENTER, Press::letter('?')], "esc", "back", Move::Back));
        keys.extend(scrolling(fit));
        keys.extend(bench_ends());
        return keys;
    }
    let go = match page {
        Page::Jobs { .. } | Page::Waiting { .. } => bind(&[ENTER], "enter", "go on", Move::Go),
        Page::Machines { .. } => bind(&[ENTER], "enter", "this machine", Move::Go),
        Page::Procedures { .. } => bind(&[ENTER], "enter", "begin the job", Move::Go),
    };
    // With nothing to go on with, the key says so and is not offered.
    keys.push(if n == 0 { go.out_of_foot().unsaid() } else { go });
    keys.extend(list_keys(n));
    let down = [Press::plain(KeyCode::PageDown), Press::letter(' ')];
    keys.push(bind(&down, "page down", "a page on", Move::PageDown).out_of_foot());
    let up = [Press::plain(KeyCode::PageUp)];
    keys.push(bind(&up, "page up", "a page back", Move::PageUp).out_of_foot());
    match page {
        Page::Jobs { .. } => {
            keys.push(bind(&[Press::letter('n')], "n", "new job", Move::New));
            keys.push(bind(&[Press::letter('g')], "g", "sign", Move::Sign));
        }
        Page::Waiting { .. } | Page::Machines { .. } | Page::Procedures { .. } => {
            keys.push(bind(&[ESC], "esc", "back", Move::Back));
        }
    }
    keys.push(help_key(false));
    keys.extend(bench_ends());
    keys
}

/// The ways out of the bench, which work everywhere on it.
fn bench_ends() -> [Binding; 2] {
    let leave = [Press::letter('q'), Press::control('c'), Press::control('q')];
    [
        bind(&leave, "q", "leave", Move::Leave),
        bind(&[Press::control('z')], "ctrl-z", "to the shell", Move::Suspend).out_of_foot(),
    ]
}

fn screen_keys(model: &Model) -> Vec<Binding> {
    let mut keys = match &model.screen {
        Screen::Who { .. } => {
            let mut keys = list_keys(model.shown.workers().len());
            keys.push(bind(&[ENTER], "enter", "that is me", Move::Go));
            keys
        }
        Screen::Walk | Screen::Correct(_) => answer_keys(model),
        Screen::Outline { cursor } => outline_keys(model, *cursor),
        Screen::Sheet { .. } => scrolling(view::fit(model)),
        Screen::History { .. } => {
            let mut keys = vec![
                bind(&[DOWN, Press::letter(' ')], "down", "the next reading", Move::Down),
                bind(&[UP], "up", "the one before", Move::Up),
            ];
            keys.extend(page_keys());
            keys
        }
        Screen::SignOff { lines, seen } => {
            let brief = if *seen < lines.len() { "looked" } else { "sign" };
            let says = if !model.shown.blocks.is_empty() {
                if !model.shown.unsigned.is_empty() {
                    "sign for the work"
                } else if model.shown.outline.iter().any(|row| row.failed) {
                    "to the step"
                } else {
                    "look again"
                }
            } else if *seen < lines.len() {
                "I have looked at this"
            } else {
                "sign for the whole job"
            };
            let mut keys = vec![bind(&[ENTER], "enter", says, Move::Go)];
            if model.shown.blocks.is_empty() {
                keys = keys.into_iter().map(|key| key.brief(brief)).collect();
            }
            keys.extend(scrolling(view::fit(model)));
            keys
        }
        Screen::Done(_) => {
            return vec![bind(&[Press::letter('q'), ENTER, ESC], "q", "leave", Move::Leave)];
        }
    };
    keys.extend(commands(model));
    keys
}

#[expect(clippy::too_many_lines, reason = "one arm for each way to answer")]
fn answer_keys(model: &Model) -> Vec<Binding> {
    let enter = |says| bind(&[ENTER], "enter", says, Move::Go);
    let y = |says| bind(&[Press::letter('y'), Press::letter('Y')], "y", says, Move::Yes);
    let mut keys = match model.way() {
        None => Vec::new(),
        Some(Way::Safety) => {
            let read = [Press::letter('r'), Press::letter('R')];
            let mut keys = vec![bind(&read, "r", "I have read it", Move::Read).short("I read it")];
            keys.extend(scrolling(view::fit(model)));
            return keys;
        }
        Some(Way::Confirm) => vec![
            y("it still stands"),
            bind(&[Press::letter('c')], "c", "answer anew", Move::Correct),
        ],
        Some(Way::Items) => vec![
            y("it is so").brief("so"),
            bind(&[Press::letter('n'), Press::letter('N')], "n", "it is not so", Move::No)
                .short("not so"),
        ],
        Some(Way::Layers) => vec![
            y("it lies so"),
            bind(&[Press::letter('n'), Press::letter('N')], "n", "it does not", Move::No)
                .short("not so"),
        ],
        Some(Way::Wrench) => wrench_keys(model),
        Some(Way::Fastener) => {
            let yes = [Press::letter('y'), Press::letter('Y'), ENTER];
            let no = [Press::letter('n'), Press::letter('N')];
            let mut keys = vec![
                bind(&yes, "y", "tightened", Move::Yes),
                bind(&no, "n", "not so", Move::No),
                bind(&[Press::letter('m')], "m", "with its figure", Move::Shown).brief("figure"),
            ];
            keys.extend(again_keys(false));
            keys
        }
        Some(Way::Tightened) => {
            let mut keys = again_keys(false).to_vec();
            let tab = [Press::plain(KeyCode::Tab)];
            keys.push(bind(&tab, "tab", "instrument", Move::Instruments).brief("tool"));
            keys
        }
        Some(Way::Done) => vec![enter("done")],
        Some(Way::One) => {
            let n = model.answering().map_or(0, |(question, ..)| options(question).len());
            let mut keys = list_keys(n);
            keys.push(enter("record it").brief("record"));
            keys
        }
        Some(Way::Several) => {
            let n = model.answering().map_or(0, |(question, ..)| options(question).len());
            let mut keys = list_keys(n);
            keys.push(enter("record them").brief("record"));
            keys
        }
        Some(Way::Figure) => {
            let mut keys = vec![enter("record it").short("record")];
            let measures = model.answering().is_some_and(|(q, ..)| q.instrument_kind().is_some());
            if measures {
                let tab = [Press::plain(KeyCode::Tab)];
                keys.push(bind(&tab, "tab", "instrument", Move::Instruments).brief("tool"));
                let x = [Press::control('x')];
                keys.push(
                    bind(&x, "ctrl-x", "could not be measured", Move::CouldNot).short("cannot"),
                );
            }
            keys
        }
        Some(Way::Text) => vec![enter("record it").brief("record")],
        Some(Way::File) => {
            let tab = [Press::plain(KeyCode::Tab)];
            let look = bind(&tab, "tab", "look at it", Move::Photo);
            let mut keys = vec![enter("attach it"), look];
            let may_lack = model.answering().is_some_and(|(q, ..)| {
                matches!(q.ask, crate::walk::flow::Ask::Attach { may_lack: true, .. })
            });
            if may_lack {
                let x = [Press::control('x')];
                keys.push(bind(&x, "ctrl-x", "there is none", Move::CouldNot));
            }
            keys
        }
        Some(Way::Witness) => vec![enter("whom I told")],
        Some(Way::Hold) => vec![enter("sign")],
        Some(Way::Wait) => {
            match model.answering().and_then(|(question, ..)| question.left_s) {
                None => vec![enter("begin the wait")],
                Some(0) => vec![enter("the time is over")],
                // It says how much is left, and ends nothing.
                Some(_) => vec![enter("").out_of_foot()],
            }
        }
        Some(Way::Stop) => vec![enter("the job ends here")],
        Some(Way::Halted) => vec![enter("go on, or sign off")],
    };
    keys.push(
        bind(&[Press::plain(KeyCode::PageDown)], "page down", "read on", Move::PageDown)
            .out_of_foot(),
    );
    keys.push(
        bind(&[Press::plain(KeyCode::PageUp)], "page up", "read back", Move::PageUp).out_of_foot(),
    );
    keys
}

fn wrench_keys(model: &Model) -> Vec<Binding> {
    let tab = [Press::plain(KeyCode::Tab)];
    let mut keys = vec![
        bind(&[ENTER], "enter", "it is set", Move::Go).brief("set"),
        bind(&[Press::control('y')], "ctrl-y", "dry or oiled", Move::Thread).brief("thread"),
        bind(&tab, "tab", "wrench", Move::Instruments),
        bind(&[Press::control('a')], "ctrl-a", "adapter", Move::Adapter),
    ];
    let begun = model.answering().and_then(|(question, ..)| question.ring.as_ref());
    if begun.is_some_and(|ring| !ring.tightening.rounds.is_empty()) {
        keys.extend(again_keys(true));
    }
    keys
}

/// A fastener that was loosened, or is checked again.
fn again_keys(typing: bool) -> [Binding; 2] {
    let key = |c: char| if typing { Press::control(c) } else { Press::letter(c) };
    let label = |c: char| if typing { format!("ctrl-{c}") } else { c.to_string() };
    [
        bind(&[key('l')], &label('l'), "one was loosened", Move::Loosened),
        bind(&[key('e')], &label('e'), "re-check one", Move::Recheck),
    ]
}

/// A command by its letter; where letters are text it needs the control key.
fn command(typing: bool, c: char, says: &'static str, what: Move) -> Binding {
    if typing {
        bind(&[Press::control(c)], &format!("ctrl-{c}"), says, what)
    } else {
        let keys = [Press::letter(c), Press::letter(c.to_ascii_uppercase()), Press::control(c)];
        bind(&keys, &c.to_string(), says, what)
    }
}

/// What can be done with the row of the outline that is picked. The other keys say why they do not.
fn outline_keys(model: &Model, cursor: usize) -> Vec<Binding> {
    let shown = &model.shown;
    let row = shown.outline.get(cursor);
    let at = row.and_then(|row| row.address.as_ref());
    let here = |may: bool, key: Binding| if may { key } else { key.out_of_foot() };
    let letter = |c: char, says, what| bind(&[Press::letter(c)], &c.to_string(), says, what);
    let answered = row.is_some_and(|row| row.answer.is_some());
    let mut keys = vec![here(answered, letter('c', "correct this answer", Move::Correct))];
    if !shown.open_too.is_empty() {
        let open = at.is_some_and(|at| shown.open_too.iter().any(|(open, _)| open == at));
        keys.push(here(open, bind(&[ENTER], "enter", "do this one now", Move::Go)));
    }
    if !shown.files.is_empty() {
        let has = at.is_some_and(|at| !shown.files_of(at).is_empty());
        keys.push(here(has, letter('i', "its photos", Move::Photo)));
    }
    if shown.outline.iter().any(|row| !row.substitutes.is_empty()) {
        let may = row.is_some_and(|row| !row.substitutes.is_empty());
        keys.push(here(may, letter('d', "decide otherwise", Move::Concede)));
    }
    if shown.outline.iter().any(|row| row.failed) {
        let failed = row.is_some_and(|row| row.failed);
        keys.push(here(failed, letter('a', "what was done", Move::Dispose)));
    }
    keys.extend(rows_keys());
    keys
}

/// The rows of the outline.
fn rows_keys() -> [Binding; 4] {
    let [on, back] = page_keys();
    [
        bind(&[DOWN, Press::letter(' ')], "down", "a row on", Move::Down),
        bind(&[UP], "up", "a row back", Move::Up).out_of_foot(),
        on,
        back,
    ]
}

/// The commands that work on every screen. Where letters are text they need the control key.
fn commands(model: &Model) -> Vec<Binding> {
    let typing = model.is_typing();
    let command = |c: char, says, what| command(typing, c, says, what);
    let mut keys = Vec::new();
    let walking = matches!(model.screen, Screen::Walk | Screen::SignOff { .. });
    let stuck = matches!(model.screen, Screen::Who { .. }) && model.shown.who.is_none();
    if !walking && !stuck {
        keys.push(bind(&[ESC], "esc", "back", Move::Back));
    }
    if !matches!(model.screen, Screen::Outline { .. }) {
        keys.push(command('o', "outline", Move::Outline));
    }
    // The foot line shows what fits: the way to safety and the way to all keys come first.
    if may_halt(model) {
        keys.push(command('s', "STOP", Move::Halt));
    }
    keys.push(help_key(typing));
    if !matches!(model.screen, Screen::Sheet { .. }) {
        keys.push(command('p', "job sheet", Move::Sheet));
    }
    // Where text is typed the control key and this letter erase; the outline leads there.
    if !matches!(model.screen, Screen::History { .. }) && !typing {
        keys.push(bind(&[Press::letter('h')], "h", "history", Move::History));
    }
    if model.shown.who.is_some() {
        keys.push(command('t', "note", Move::Note));
        if matches!(model.screen, Screen::Walk) && model.shown.halted.is_none() {
            keys.push(command('b', "break", Move::Pause).out_of_foot());
            keys.push(command('v', "seen earlier, entered late", Move::Late).out_of_foot());
            keys.push(command('f', "photo or file", Move::Evidence).out_of_foot());
            let free = model.shown.question().is_some_and(|q| q.no_deviation.is_none());
            if free {
                let says = "leave out, or do otherwise";
                keys.push(command('d', says, Move::Deviate).out_of_foot());
            }
        }
        keys.push(command('w', "who", Move::Who));
        let sign = command('g', "sign for my work", Move::Sign);
        keys.push(sign.out_of_foot());
    }
    keys.push(command('q', "leave", Move::Leave));
    keys
}
