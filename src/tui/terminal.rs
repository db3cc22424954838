//! The real terminal: taking it, giving it back whatever happens, and the loop around the runtime.

use std::io::{self, Stdout, Write as _, stdout};
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Once};
use std::time::{Duration, Instant};

use crossterm::cursor::{MoveTo, Show};
use crossterm::event::{
    DisableBracketedPaste, EnableBracketedPaste, Event, poll, read as read_event,
};
use crossterm::execute;
use crossterm::style::Print;
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::bench::{Bench, CameBack, Chosen};
use super::graphics::Graphics;
use super::model::Screen;
use super::runtime::{Runtime, Turn};
use super::theme::Look;
use super::view::{picture, view};
use crate::ids::Moment;
use crate::photo::Photo;
use crate::session::Session;
use crate::session::bench::Shop;
use crate::session::keys::{Keys, Releaser};

/// How long the loop waits for a key before it looks whether it was told to end.
const WAIT: Duration = Duration::from_millis(100);
/// The size of a cell where the system does not know it: half as wide as high.
const CELL: (u16, u16) = (8, 16);
/// So many queued events are taken in before the screen is drawn again.
const EVENTS_MAX: usize = 256;

/// How a full-screen walk ended. The job's folder is as the last saved entry left it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The person left; the job stays open.
    Left,
    /// The job is released.
    Released,
    /// The system asked the program to end; the job stays open.
    ToldToEnd,
}

impl End {
    /// What is said in the shell about it.
    pub fn text(self, session: &Session) -> String {
        let job = session.job();
        match self {
            Self::Released => format!("Job {job} is released and closed."),
            Self::Left => {
                format!("Job {job} stays as it is. Go on with it: witnessmark walk {job}")
            }
            Self::ToldToEnd => format!(
                "The program was told to end. Everything that was answered is saved. \
                 Go on with it: witnessmark walk {job}"
            ),
        }
    }
}

/// Why a full-screen walk broke off. Everything that was said to be saved is saved.
#[derive(Debug, thiserror::Error)]
pub enum TermError {
    /// The terminal.
    #[error(
        "the terminal could not be used: {0}; what was saved stays, resume the job, \
         or walk it with `--plain`"
    )]
    Terminal(#[from] io::Error),
    /// The shop's list of jobs.
    #[error("the jobs of the shop cannot be listed: {0}")]
    Jobs(String),
}

/// Something that takes events of the terminal and draws.
trait Stage {
    /// Takes an event that came at `at_ms`.
    fn feed(&mut self, event: &Event, at_ms: u64) -> Turn;
    /// Nothing was typed for a while; true where there is something new to show.
    fn tick(&mut self) -> bool;
    /// Draws, and says where the cursor belongs.
    fn draw(&self, area: Rect, buf: &mut Buffer) -> Option<Position>;
    /// How the terminal takes pictures, and the one that belongs on it, with its cells.
    fn picture(&self, area: Rect) -> Option<(Graphics, Rect, Rc<Photo>)>;
    /// The time.
    fn now(&self) -> Moment;
}

impl Stage for Runtime<'_> {
    fn feed(&mut self, event: &Event, at_ms: u64) -> Turn {
        Self::feed(self, event, at_ms)
    }

    fn tick(&mut self) -> bool {
        Self::tick(self)
    }

    fn draw(&self, area: Rect, buf: &mut Buffer) -> Option<Position> {
        view(&self.model, area, buf)
    }

    fn picture(&self, area: Rect) -> Option<(Graphics, Rect, Rc<Photo>)> {
        let graphics = self.model.hand.look.graphics?;
        let (place, photo) = picture(&self.model, area)?;
        Some((graphics, place, Rc::clone(photo)))
    }

    fn now(&self) -> Moment {
        self.session().now()
    }
}

impl Stage for Bench<'_> {
    fn feed(&mut self, event: &Event, _: u64) -> Turn {
        Self::feed(self, event)
    }

    fn tick(&mut self) -> bool {
        Self::tick(self)
    }

    fn draw(&self, area: Rect, buf: &mut Buffer) -> Option<Position> {
        Self::draw(self, area, buf)
    }

    fn picture(&self, _: Rect) -> Option<(Graphics, Rect, Rc<Photo>)> {
        None
    }

    fn now(&self) -> Moment {
        self.shop_now()
    }
}

/// Shows the bench of `shop`, after what was chosen on it `before`, until a job is chosen; `None`
/// where the person left.
///
/// # Errors
/// A list of jobs that cannot be read, or a terminal that cannot be used.
pub fn run_bench(
    shop: &dyn Shop,
    look: Look,
    before: Option<CameBack>,
) -> Result<Option<Chosen>, TermError> {
    let size = crossterm::terminal::size()?;
    let mut bench = Bench::back(shop, size, look, before).map_err(TermError::Jobs)?;
    match on_stage(&mut bench)? {
        Left::Quit => Ok(bench.chosen),
        Left::ToldToEnd => Ok(None),
    }
}

/// Walks the job in `session` on the full screen.
///
/// # Errors
/// A terminal that cannot be used.
pub fn run(
    session: &mut Session,
    keys: &dyn Keys,
    releaser: &mut dyn Releaser,
    look: Look,
) -> Result<End, TermError> {
    let size = crossterm::terminal::size()?;
    let mut runtime = Runtime::new(session, keys, releaser, size);
    runtime.model.hand.look = Look { graphics: graphics(look), ..look };
    match on_stage(&mut runtime)? {
        Left::ToldToEnd => Ok(End::ToldToEnd),
        Left::Quit if matches!(runtime.model.screen, Screen::Done(_)) => Ok(End::Released),
        Left::Quit => Ok(End::Left),
    }
}

/// How pictures are sent to this terminal. Sixels are as large as they are sent, so they need a
/// terminal whose cells have a known size.
fn graphics(look: Look) -> Option<Graphics> {
    look.graphics.filter(|graphics| *graphics != Graphics::Sixel || cell().is_some())
}

/// The size of a cell in pixels, where the system knows it.
fn cell() -> Option<(u16, u16)> {
    let size = crossterm::terminal::window_size().ok()?;
    let cell = (size.width.checked_div(size.columns)?, size.height.checked_div(size.rows)?);
    (cell.0 > 0 && cell.1 > 0).then_some(cell)
}

/// How a stage was left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Left {
    /// The person left.
    Quit,
    /// The system asked the program to end, or the other end of the line is gone.
    ToldToEnd,
}

/// Takes the terminal and plays `stage` on it until it is left.
fn on_stage(stage: &mut dyn Stage) -> Result<Left, TermError> {
    let told_to_end = ends()?;
    restore_on_panic();
    let _guard = Guard::enter()?;
    let mut screen = OnScreen::new()?;
    let mut watch = Watch::start(stage.now());
    screen.draw(stage)?;
    loop {
        if told_to_end.load(Ordering::Relaxed) || wait_for_keys()? == Line::HungUp {
            return Ok(Left::ToldToEnd);
        }
        if !poll(Duration::ZERO)? {
            if stage.tick() {
                screen.draw(stage)?;
            }
            continue;
        }
        // What changes nothing is not drawn again.
        let mut changed = false;
        for _ in 0..EVENTS_MAX {
            let event = read_event()?;
            let at_ms = watch.at_ms(stage.now());
            let turn = stage.feed(&event, at_ms);
            changed |= turn != Turn::Idle;
            match turn {
                Turn::Idle | Turn::Draw => {}
                Turn::Answered => drop_queued(stage, at_ms)?,
                Turn::Suspend => {
                    Guard::sleep()?;
                    screen = OnScreen::cleared()?;
                }
                Turn::Quit => return Ok(Left::Quit),
            }
            if !poll(Duration::ZERO)? {
                break;
            }
        }
        if changed {
            screen.draw(stage)?;
        }
    }
}

/// The state of the line to the person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Line {
    /// Somebody may be there.
    Open,
    /// The other end is gone.
    HungUp,
}

/// Waits until something is typed or some time has passed.
///
/// The event source that is asked afterwards reads a line that hung up for ever without returning,
/// so it is never asked while the other end is gone.
#[cfg(unix)]
fn wait_for_keys() -> io::Result<Line> {
    use rustix::event::{PollFd, PollFlags, Timespec};
    let stdin = io::stdin();
    let mut line = [PollFd::new(&stdin, PollFlags::IN)];
    let wait = Timespec::try_from(WAIT).unwrap_or_default();
    match rustix::event::poll(&mut line, Some(&wait)) {
        // A signal, such as a new size of the window.
        Ok(_) | Err(rustix::io::Errno::INTR) => {}
        Err(error) => return Err(error.into()),
    }
    let gone = PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL;
    let hung_up = line.iter().any(|fd| fd.revents().intersects(gone));
    Ok(if hung_up { Line::HungUp } else { Line::Open })
}

#[cfg(not(unix))]
fn wait_for_keys() -> io::Result<Line> {
    poll(WAIT)?;
    Ok(Line::Open)
}

/// Throws away what was typed before the answer was given. A new size still counts.
fn drop_queued(stage: &mut dyn Stage, at_ms: u64) -> io::Result<()> {
    for _ in 0..EVENTS_MAX {
        if !poll(Duration::ZERO)? {
            break;
        }
        let event = read_event()?;
        if let Event::Resize(..) = event {
            stage.feed(&event, at_ms);
        }
    }
    Ok(())
}

/// What the terminal shows: the frame drawn last, and the picture that was sent over it.
struct OnScreen {
    terminal: Terminal<CrosstermBackend<Stdout>>,
    sent: Option<(Graphics, Rect, Rc<Photo>)>,
}

impl OnScreen {
    fn new() -> io::Result<Self> {
        Ok(Self { terminal: Terminal::new(CrosstermBackend::new(stdout()))?, sent: None })
    }

    /// An empty screen, on which everything is drawn anew. Clearing the old one would ask the
    /// terminal where its cursor is, and not every terminal answers.
    fn cleared() -> io::Result<Self> {
        execute!(stdout(), Clear(ClearType::All))?;
        Self::new()
    }

    fn draw(&mut self, stage: &mut dyn Stage) -> io::Result<()> {
        let size = self.terminal.size()?;
        stage.feed(&Event::Resize(size.width, size.height), 0);
        let picture = stage.picture(Rect { x: 0, y: 0, width: size.width, height: size.height });
        let is_there = match (&self.sent, &picture) {
            (None, None) => true,
            (Some((_, place, sent)), Some((_, wanted_at, wanted))) => {
                place == wanted_at && Rc::ptr_eq(sent, wanted)
            }
            _ => false,
        };
        if let (Some((graphics, ..)), false) = (&self.sent, is_there) {
            write!(stdout(), "{}", graphics.gone())?;
            // What lay under the picture is not known to be there any more.
            *self = Self::cleared()?;
        }
        self.terminal.draw(|frame| {
            let area = frame.area();
            if let Some(cursor) = stage.draw(area, frame.buffer_mut()) {
                frame.set_cursor_position(cursor);
            }
        })?;
        if let (Some((graphics, place, photo)), false) = (&picture, is_there) {
            let text = graphics.text(photo, *place, cell().unwrap_or(CELL));
            execute!(stdout(), MoveTo(place.x, place.y), Print(text))?;
        }
        self.sent = picture;
        Ok(())
    }
}

/// Holds the terminal, and gives it back when it goes.
struct Guard;

impl Guard {
    fn enter() -> io::Result<Self> {
        enable_raw_mode()?;
        // From here on the terminal is given back on every way out.
        let guard = Self;
        execute!(stdout(), EnterAlternateScreen, EnableBracketedPaste)?;
        Ok(guard)
    }

    /// Gives the terminal back, goes to sleep as shells expect it, and takes it again on waking.
    fn sleep() -> io::Result<()> {
        give_back();
        #[cfg(unix)]
        rustix::process::kill_process(rustix::process::getpid(), rustix::process::Signal::TSTP)?;
        std::mem::forget(Self::enter()?);
        Ok(())
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        give_back();
    }
}

/// Puts the terminal back. Failing here cannot be mended, and must not hide what happened before.
fn give_back() {
    drop(execute!(stdout(), DisableBracketedPaste, LeaveAlternateScreen, Show));
    drop(disable_raw_mode());
}

/// Has the terminal put back before the words of a panic are printed, so that they can be read.
fn restore_on_panic() {
    static INSTALLED: Once = Once::new();
    INSTALLED.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            give_back();
            before(info);
        }));
    });
}

/// A flag that is set once the system asks the program to end.
fn ends() -> io::Result<Arc<AtomicBool>> {
    let flag = Arc::new(AtomicBool::new(false));
    #[cfg(unix)]
    for signal in [signal_hook::consts::SIGTERM, signal_hook::consts::SIGHUP] {
        signal_hook::flag::register(signal, Arc::clone(&flag))?;
    }
    Ok(flag)
}

/// Counts milliseconds that never go back, and counts a sleeping computer in.
struct Watch {
    running: Instant,
    wall: Moment,
    total_ms: u64,
}

impl Watch {
    #[expect(clippy::disallowed_methods, reason = "keys are timed by a clock that cannot be set")]
    fn start(wall: Moment) -> Self {
        Self { running: Instant::now(), wall, total_ms: 0 }
    }

    fn at_ms(&mut self, wall: Moment) -> u64 {
        let ran = u64::try_from(self.running.elapsed().as_millis()).unwrap_or(u64::MAX);
        let apart = wall.time().signed_duration_since(self.wall.time()).num_milliseconds();
        *self = Self {
            total_ms: self.total_ms.saturating_add(ran.max(apart.max(0).unsigned_abs())),
            ..Self::start(wall)
        };
        self.total_ms
    }
}
