//! The bench: the open jobs of the shop, what is open on each and who left it; a new job.
//!
//! A screen of its own before any job is open. It reads and never writes; what is chosen here is
//! opened by whoever runs it.

use std::collections::BTreeMap;

use crossterm::event::Event;
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::keymap::{Binding, Move, Press, bench_keys};
use super::runtime::Turn;
use super::theme::Look;
use super::view;
use crate::ids::{JobId, Moment, PersonId, ProcedureId};
use crate::session::bench::{Offer, Shop};
use crate::session::history::OpenJob;
use crate::walk::open::Open;

/// The rows that are read at once, about a screen.
const ROWS_AHEAD: usize = 40;

/// What was chosen on the bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Chosen {
    /// Go on with this job.
    Job(JobId),
    /// Open a new one.
    New(ProcedureId, String),
}

/// What the bench shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Page {
    /// The open jobs.
    Jobs {
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
    /// The keys are shown.
    pub helps: bool,
    /// Why the last move led to nothing.
    pub refused: Option<String>,
    /// Jobs without a record, newest first; those that turn out released are taken out once read.
    pub ids: Vec<JobId>,
    /// How they stand, as far as they were read.
    pub lines: BTreeMap<JobId, OpenJob>,
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
        let mut bench = Self {
            ids: shop.job_ids()?,
            shop,
            page: Page::Jobs { cursor: 0 },
            helps: false,
            refused: None,
            lines: BTreeMap::new(),
            open: BTreeMap::new(),
            now: shop.now(),
            size,
            look,
            chosen: None,
        };
        bench.read_ahead();
        Ok(bench)
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

    /// Reads the rows about the one that is picked, and drops those that are released after all.
    fn read_ahead(&mut self) {
        let Page::Jobs { cursor } = self.page else { return };
        let mut n = cursor.saturating_sub(ROWS_AHEAD / 2);
        let end = n + ROWS_AHEAD;
        while n < end {
            let Some(id) = self.ids.get(n).cloned() else { break };
            if self.lines.contains_key(&id) {
                n += 1;
                continue;
            }
            if let Some(line) = self.shop.open_job(&id) {
                self.lines.insert(id, line);
                n += 1;
            } else {
                self.ids.remove(n);
            }
        }
    }

    /// The job that is picked.
    pub fn picked(&self) -> Option<&JobId> {
        match self.page {
            Page::Jobs { cursor } => self.ids.get(cursor),
            Page::Machines { .. } | Page::Procedures { .. } => None,
        }
    }

    /// The keys that work now.
    pub fn keys(&self) -> Vec<Binding> {
        bench_keys(&self.page, self.helps)
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

    /// Looks closer at the job that is picked, once nothing else is to be done. True where there is
    /// something new to show.
    pub fn tick(&mut self) -> bool {
        let Some(id) = self.picked().cloned() else { return false };
        if self.open.contains_key(&id) {
            return false;
        }
        let open = self.shop.what_is_open(&id);
        self.open.insert(id, open);
        true
    }

    /// The time, as the shop has it.
    pub fn shop_now(&self) -> Moment {
        self.shop.now()
    }

    fn n_rows(&self) -> usize {
        match &self.page {
            Page::Jobs { .. } => self.ids.len(),
            Page::Machines { .. } => self.machines().len(),
            Page::Procedures { offers, .. } => offers.len(),
        }
    }

    fn step(&mut self, by: isize) {
        let last = self.n_rows().saturating_sub(1);
        let (Page::Jobs { cursor } | Page::Machines { cursor } | Page::Procedures { cursor, .. }) =
            &mut self.page;
        *cursor = cursor.saturating_add_signed(by).min(last);
    }

    fn did(&mut self, what: Move) -> Turn {
        if self.helps {
            self.helps = false;
            return Turn::Draw;
        }
        match what {
            Move::Up => self.step(-1),
            Move::Down => self.step(1),
            Move::PageUp => self.step(-10),
            Move::PageDown => self.step(10),
            Move::Pick(index) if index < self.n_rows() => {
                let (Page::Jobs { cursor }
                | Page::Machines { cursor }
                | Page::Procedures { cursor, .. }) = &mut self.page;
                *cursor = index;
            }
            Move::New => self.page = Page::Machines { cursor: 0 },
            Move::Help => self.helps = true,
            Move::Back => match &self.page {
                Page::Jobs { .. } => {}
                Page::Machines { .. } => self.page = Page::Jobs { cursor: 0 },
                Page::Procedures { .. } => self.page = Page::Machines { cursor: 0 },
            },
            Move::Leave => return Turn::Quit,
            Move::Suspend => return Turn::Suspend,
            Move::Go => return self.go(),
            _ => {}
        }
        Turn::Draw
    }

    fn go(&mut self) -> Turn {
        match &self.page {
            Page::Jobs { .. } => {
                self.chosen = self.picked().cloned().map(Chosen::Job);
                if self.chosen.is_none() {
                    self.refused = Some("no job is open: press n for a new one".to_owned());
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
                    Err(why) => self.refused = Some(why),
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
