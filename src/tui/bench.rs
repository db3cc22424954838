//! The bench: the open jobs of the shop, what is open on each and who left it; a new job.
//!
//! A screen of its own before any job is open. It reads and never writes; what is chosen here is
//! opened by whoever runs it.

use std::collections::{BTreeMap, BTreeSet};

use crossterm::event::Event;
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::keymap::{Binding, Move, Press, bench_keys};
use super::runtime::Turn;
use super::theme::Look;
use super::view;
use crate::ids::{JobId, Moment, PersonId, ProcedureId};
use crate::session::bench::{Offer, Shop};
use crate::session::history::{Glance, OpenJob};
use crate::walk::open::{Awaited, Open};

/// The rows that are read ahead, about a screen.
const ROWS_AHEAD: usize = 40;
/// So many of them are glanced at before a frame is drawn; the others come while nothing is typed.
const GLANCES_AT_ONCE: usize = 16;
/// So many whole journals are read before keys are looked at again.
const READ_AT_ONCE: usize = 1;
/// So many jobs are looked at closer before the screen is drawn again.
const LOOKS_AT_ONCE: usize = 8;

/// What was chosen on the bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Chosen {
    /// Go on with this job.
    Job(JobId),
    /// Open a new one.
    New(ProcedureId, String),
}

/// What came of what was chosen on the bench before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CameBack {
    /// What was chosen.
    pub chosen: Chosen,
    /// What is to be known of it before anything else is done.
    pub said: Option<Said>,
}

/// Something to be read before going on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// True where what was chosen could not be opened.
    pub refused: bool,
    /// What, why, what next.
    pub lines: Vec<String>,
}

/// What lies over the bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Over {
    /// The keys that work now.
    Help,
    /// What came of what was chosen.
    Said(Said),
}

/// What the bench shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Page {
    /// The open jobs.
    Jobs {
        /// The row that is picked.
        cursor: usize,
    },
    /// The open jobs that wait for a signature, the one that waits longest first.
    Waiting {
        /// The row that is picked.
        cursor: usize,
    },
    /// The machines of the shop, for a new job.
    Machines {
        /// The row that is picked.
        cursor: usize,
    },
    /// What may be done on a machine.
    Procedures {
        /// Its tag.
        tag: String,
        /// What is approved for it.
        offers: Vec<Offer>,
        /// The row that is picked.
        cursor: usize,
    },
}

/// The bench, with the shop behind it.
pub struct Bench<'a> {
    shop: &'a dyn Shop,
    /// What is on the screen.
    pub page: Page,
    /// What lies over it, and the first row of that which is shown.
    pub over: Option<(Over, usize)>,
    /// Why the last move led to nothing.
    pub refused: Option<String>,
    /// Jobs without a record, newest first; those that turn out released are taken out once read.
    pub ids: Vec<JobId>,
    /// How they stand, as far as they were read.
    pub lines: BTreeMap<JobId, OpenJob>,
    /// The jobs whose whole journal was read.
    checked: BTreeSet<JobId>,
    /// What is open on the jobs that were picked.
    pub open: BTreeMap<JobId, Option<Open>>,
    /// When the bench was drawn.
    pub now: Moment,
    /// Columns and rows.
    pub size: (u16, u16),
    /// What the terminal can show.
    pub look: Look,
    /// What was chosen.
    pub chosen: Option<Chosen>,
}

impl<'a> Bench<'a> {
    /// The bench of `shop`.
    ///
    /// # Errors
    /// Why its list of jobs cannot be read.
    pub fn new(shop: &'a dyn Shop, size: (u16, u16), look: Look) -> Result<Self, String> {
        Self::back(shop, size, look, None)
    }

    /// The bench of `shop`, after what was chosen on it `before`.
    ///
    /// # Errors
    /// Why its list of jobs cannot be read.
    pub fn back(
        shop: &'a dyn Shop,
        size: (u16, u16),
        look: Look,
        before: Option<CameBack>,
    ) -> Result<Self, String> {
        let mut bench = Self {
            ids: shop.job_ids()?,
            shop,
            page: Page::Jobs { cursor: 0 },
            over: None,
            refused: None,
            lines: BTreeMap::new(),
            checked: BTreeSet::new(),
            open: BTreeMap::new(),
            now: shop.now(),
            size,
            look,
            chosen: None,
        };
        if let Some(CameBack { chosen, said }) = before {
            bench.page = bench.page_of(chosen);
            bench.over = said.map(|said| (Over::Said(said), 0));
        }
        bench.read_ahead();
        Ok(bench)
    }

    /// The page on which `chosen` is picked.
    fn page_of(&self, chosen: Chosen) -> Page {
        match chosen {
            Chosen::Job(job) => {
                Page::Jobs { cursor: self.ids.iter().position(|id| *id == job).unwrap_or(0) }
            }
            Chosen::New(procedure, tag) => match self.shop.offers(&tag) {
                Err(_) => Page::Machines { cursor: 0 },
                Ok(offers) => {
                    let at = offers.iter().position(|offer| offer.procedure == procedure);
                    Page::Procedures { tag, offers, cursor: at.unwrap_or(0) }
                }
            },
        }
    }

    /// The shop's name for people.
    pub fn title(&self) -> String {
        self.shop.title()
    }

    /// True for a demo shop.
    pub fn is_demo(&self) -> bool {
        self.shop.is_demo()
    }

    /// The name of `person`.
    pub fn name(&self, person: Option<&PersonId>) -> String {
        person.map_or_else(|| "nobody".to_owned(), |person| self.shop.name(person))
    }

    /// The machines: tag and one line for people.
    pub fn machines(&self) -> Vec<(String, String)> {
        self.shop.machines()
    }

    /// Glances at some of the rows about the one that is picked, and drops those that are released
    /// after all. True where there was one to look at.
    fn read_ahead(&mut self) -> bool {
        let Page::Jobs { cursor } = self.page else { return false };
        let mut n = cursor.saturating_sub(ROWS_AHEAD / 2);
        let end = n + ROWS_AHEAD;
        let mut n_read = 0;
        while n < end && n_read < GLANCES_AT_ONCE {
            let Some(id) = self.ids.get(n).cloned() else { break };
            if self.lines.contains_key(&id) {
                n += 1;
                continue;
            }
            n_read += 1;
            let stands = match self.shop.glance(&id) {
                Glance::Open(line) => Some(line),
                Glance::Released => None,
                Glance::Unclear => {
                    self.checked.insert(id.clone());
                    self.shop.open_job(&id)
                }
            };
            n += usize::from(self.keep(&id, stands));
        }
        n_read > 0
    }

    /// Reads some whole journals of the rows about the one that is picked. True where one of them
    /// does not stand as it looked at a glance.
    fn check_ahead(&mut self) -> bool {
        let Page::Jobs { cursor } = self.page else { return false };
        let from = cursor.saturating_sub(ROWS_AHEAD / 2);
        let rows = self.ids.iter().skip(from).take(ROWS_AHEAD);
        let todo: Vec<JobId> =
            rows.filter(|id| !self.checked.contains(*id)).take(READ_AT_ONCE).cloned().collect();
        let mut news = false;
        for id in todo {
            let before = self.lines.get(&id).cloned();
            let stands = self.shop.open_job(&id);
            news |= stands != before;
            self.checked.insert(id.clone());
            self.keep(&id, stands);
        }
        news
    }

    /// Keeps how a job stands; one that is released leaves the list. True where it stays.
    fn keep(&mut self, id: &JobId, stands: Option<OpenJob>) -> bool {
        if let Some(line) = stands {
            self.lines.insert(id.clone(), line);
            return true;
        }
        self.ids.retain(|known| known != id);
        self.lines.remove(id);
        false
    }

    /// The job that is picked.
    pub fn picked(&self) -> Option<&JobId> {
        match self.page {
            Page::Jobs { cursor } => self.ids.get(cursor),
            Page::Waiting { cursor } => self.waiting().get(cursor).copied(),
            Page::Machines { .. } | Page::Procedures { .. } => None,
        }
    }

    /// The signature that a job waits for, as far as it was looked at.
    pub fn awaited(&self, id: &JobId) -> Option<&Awaited> {
        self.open.get(id)?.as_ref()?.signature.as_ref()
    }

    /// The jobs that wait for a signature, oldest first, as far as they were looked at.
    pub fn waiting(&self) -> Vec<&JobId> {
        self.ids.iter().rev().filter(|id| self.awaited(id).is_some()).collect()
    }

    /// How many jobs were not looked at closer yet.
    pub fn n_unseen(&self) -> usize {
        self.ids.iter().filter(|id| !self.open.contains_key(*id)).count()
    }

    /// The keys that work now.
    pub fn keys(&self) -> Vec<Binding> {
        let over = self.over.as_ref().map(|(_, scroll)| {
            let (n_rows, height) = (view::bench_over_rows(self), view::bench_height(self.size));
            view::Fit { n_rows, height, offset: *scroll }
        });
        bench_keys(&self.page, self.n_rows(), over)
    }

    /// Takes an event of the terminal.
    pub fn feed(&mut self, event: &Event) -> Turn {
        match event {
            Event::Key(key) => {
                let Some(press) = Press::of(key) else { return Turn::Idle };
                let known = self.keys().into_iter().find(|b| b.keys.contains(&press));
                let Some(binding) = known else { return Turn::Idle };
                self.refused = None;
                let turn = self.did(binding.what);
                self.read_ahead();
                turn
            }
            Event::Resize(columns, rows) => {
                self.size = (*columns, *rows);
                Turn::Draw
            }
            _ => Turn::Idle,
        }
    }

    /// Looks closer at the job that is picked, or at all of them where the page asks for it, once
    /// nothing else is to be done. True where there is something new to show.
    pub fn tick(&mut self) -> bool {
        if self.read_ahead() {
            return true;
        }
        let todo: Vec<JobId> = match self.page {
            Page::Waiting { .. } => {
                let unseen = self.ids.iter().rev().filter(|id| !self.open.contains_key(*id));
                unseen.take(LOOKS_AT_ONCE).cloned().collect()
            }
            _ => self.picked().into_iter().cloned().collect(),
        };
        let mut news = false;
        for id in todo.into_iter().filter(|id| !self.open.contains_key(id)).collect::<Vec<_>>() {
            let open = self.shop.what_is_open(&id);
            self.open.insert(id.clone(), open);
            if self.checked.insert(id.clone()) {
                let stands = self.shop.open_job(&id);
                self.keep(&id, stands);
            }
            news = true;
        }
        news || self.check_ahead()
    }

    /// The time, as the shop has it.
    pub fn shop_now(&self) -> Moment {
        self.shop.now()
    }

    /// The rows of the page.
    pub fn n_rows(&self) -> usize {
        match &self.page {
            Page::Jobs { .. } => self.ids.len(),
            Page::Waiting { .. } => self.waiting().len(),
            Page::Machines { .. } => self.machines().len(),
            Page::Procedures { offers, .. } => offers.len(),
        }
    }

    fn cursor_mut(&mut self) -> &mut usize {
        match &mut self.page {
            Page::Jobs { cursor }
            | Page::Waiting { cursor }
            | Page::Machines { cursor }
            | Page::Procedures { cursor, .. } => cursor,
        }
    }

    fn step(&mut self, by: isize) {
        let last = self.n_rows().saturating_sub(1);
        let cursor = self.cursor_mut();
        *cursor = cursor.saturating_add_signed(by).min(last);
    }

    /// A move in what lies over the bench.
    fn did_over(&mut self, what: Move) {
        let page = isize::try_from(self.size.1.saturating_sub(6).max(1)).unwrap_or(1);
        let by = match what {
            Move::Up => -1,
            Move::Down => 1,
            Move::PageUp => -page,
            Move::PageDown => page,
            _ => {
                self.over = None;
                return;
            }
        };
        let most = view::bench_over_rows(self).saturating_sub(view::bench_height(self.size));
        if let Some((_, scroll)) = &mut self.over {
            *scroll = scroll.saturating_add_signed(by).min(most);
        }
    }

    fn did(&mut self, what: Move) -> Turn {
        match what {
            Move::Leave => return Turn::Quit,
            Move::Suspend => return Turn::Suspend,
            _ if self.over.is_some() => {
                self.did_over(what);
                return Turn::Draw;
            }
            Move::Up => self.step(-1),
            Move::Down => self.step(1),
            Move::PageUp => self.step(-10),
            Move::PageDown => self.step(10),
            Move::Pick(index) if index < self.n_rows() => *self.cursor_mut() = index,
            Move::New => self.page = Page::Machines { cursor: 0 },
            Move::Sign => self.page = Page::Waiting { cursor: 0 },
            Move::Help => self.over = Some((Over::Help, 0)),
            Move::Back => match &self.page {
                Page::Jobs { .. } => {}
                Page::Waiting { .. } | Page::Machines { .. } => {
                    self.page = Page::Jobs { cursor: 0 };
                }
                Page::Procedures { .. } => self.page = Page::Machines { cursor: 0 },
            },
            Move::Go => return self.go(),
            _ => {}
        }
        Turn::Draw
    }

    fn go(&mut self) -> Turn {
        match &self.page {
            Page::Jobs { .. } | Page::Waiting { .. } => {
                self.chosen = self.picked().cloned().map(Chosen::Job);
                if self.chosen.is_none() {
                    self.refused = Some(match self.page {
                        Page::Waiting { .. } => "no job waits here: press esc for all".to_owned(),
                        _ => "no job is open: press n for a new one".to_owned(),
                    });
                }
            }
            Page::Machines { cursor } => match self.machines().get(*cursor) {
                None => self.refused = Some("the shop's list has no machine".to_owned()),
                Some((tag, _)) => match self.shop.offers(tag) {
                    Ok(offers) if offers.is_empty() => {
                        let why = format!("no procedure is approved for {tag}: see `approve`");
                        self.refused = Some(why);
                    }
                    Ok(offers) => {
                        self.page = Page::Procedures { tag: tag.clone(), offers, cursor: 0 };
                    }
                    Err(why) => {
                        let said = Said { refused: true, lines: vec![why] };
                        self.over = Some((Over::Said(said), 0));
                    }
                },
            },
            Page::Procedures { tag, offers, cursor } => {
                let offer = offers.get(*cursor).map(|offer| offer.procedure.clone());
                self.chosen = offer.map(|procedure| Chosen::New(procedure, tag.clone()));
            }
        }
        if self.chosen.is_some() { Turn::Quit } else { Turn::Draw }
    }

    /// Draws, and says where the cursor belongs.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) -> Option<Position> {
        view::bench(self, area, buf)
    }
}
