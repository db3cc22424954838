//! A machine's earlier jobs, and each reading over them with its limit, its trend and the day on
//! which the trend reaches the limit.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};

use super::question::positions_text;
use crate::ids::{JobId, Moment};
use crate::session::Session;
use crate::session::history::{History, PastJob};
use crate::units::trend::{Figure, Line};
use crate::units::{Limit, Quantity, Reading, Unit};
use crate::walk::flow::Ask;

/// So few readings say nothing about where a line goes.
pub const TREND_READINGS_MIN: usize = 3;
/// A crossing further away than this is not told, in days; a guess that far is none.
const AHEAD_DAYS_MAX: i64 = 3_650;
const DAY_S: i64 = 86_400;

/// The history of the machine on the screen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HistoryShown {
    /// Its jobs, oldest first.
    pub jobs: Vec<PastJob>,
    /// Jobs that cannot be read.
    pub damaged: Vec<(JobId, String)>,
    /// The readings that this job's procedure takes and that were taken at least once.
    pub series: Vec<Series>,
}

/// One reading over the jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Series {
    /// What is measured.
    pub text: String,
    /// Where.
    pub position: Option<String>,
    /// The unit of its limit.
    pub unit: Unit,
    /// The limit in force in this job.
    pub limit: Limit,
    /// The readings, oldest first.
    pub points: Vec<Point>,
}

/// A reading of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// The job.
    pub job: JobId,
    /// When it was entered.
    pub at: Moment,
    /// The reading.
    pub reading: Reading,
}

/// Where a series goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trend {
    /// Too few readings, or all of one moment.
    TooFew,
    /// The line stays within the limit for as long as it makes sense to look.
    Stays(Line),
    /// The line is past the limit already.
    Past(Line),
    /// The line reaches the limit on this day.
    Reaches(Line, Moment),
}

/// Days from `from` to `at`.
fn days(from: Moment, at: Moment) -> Figure {
    let seconds = at.time().signed_duration_since(from.time()).num_seconds();
    Ratio::new(BigInt::from(seconds), BigInt::from(DAY_S))
}

impl HistoryShown {
    /// The history of the machine that `session` works on.
    ///
    /// # Errors
    /// The shop's list of jobs cannot be read; why.
    pub fn of(session: &Session) -> Result<Self, String> {
        let History { jobs, damaged } = session.history().map_err(|error| error.to_string())?;
        let (flow, state) = (&session.files().flow, session.state());
        let kept_back = |index: usize, note: &crate::walk::measure::MeasureNote| {
            note.blind && state.held.get(index).is_none_or(Option::is_none)
        };
        let series = flow.instances.iter().enumerate().filter_map(|(index, instance)| {
            let Ask::Measure(note) = &instance.ask else { return None };
            // Earlier readings and the limit would tell what is to be read.
            if kept_back(index, note) {
                return None;
            }
            // A share of another reading was another limit in every job.
            let limit = note.limit()?;
            let (text, unit) = (&note.text, &note.unit);
            let points: Vec<Point> = jobs
                .iter()
                .filter_map(|past| {
                    let (at, reading) = past.readings.get(&instance.address)?;
                    let fits = reading.value.dimension == unit.dimension();
                    fits.then(|| Point { job: past.job.clone(), at: *at, reading: reading.clone() })
                })
                .collect();
            (!points.is_empty()).then(|| Series {
                text: text.clone(),
                position: positions_text(&instance.address),
                unit: *unit,
                limit: limit.clone(),
                points,
            })
        });
        let series = series.collect();
        Ok(Self { jobs, damaged, series })
    }
}

impl Series {
    /// A figure of the series in its unit.
    pub fn figure(&self, quantity: &Quantity) -> Figure {
        quantity.in_unit(self.unit)
    }

    /// The straight line through the readings over days from the first one, where there are enough.
    pub fn trend(&self) -> Trend {
        let Some(first) = self.points.first().map(|point| point.at) else { return Trend::TooFew };
        if self.points.len() < TREND_READINGS_MIN {
            return Trend::TooFew;
        }
        let points: Vec<(Figure, Figure)> = self
            .points
            .iter()
            .map(|point| (days(first, point.at), self.figure(&point.reading.value)))
            .collect();
        let Some(line) = Line::through(&points) else { return Trend::TooFew };
        let last = points.last().map_or_else(Figure::zero, |(x, _)| x.clone());
        let bound =
            if line.slope.is_negative() { &self.limit.at_least } else { &self.limit.at_most };
        let Some(bound) = bound.as_ref().map(|bound| self.figure(bound)) else {
            return Trend::Stays(line);
        };
        let Some(x) = line.reaches(&bound) else { return Trend::Stays(line) };
        if x <= last {
            return Trend::Past(line);
        }
        let ahead_s = (x * BigInt::from(DAY_S)).to_integer().to_i64();
        match ahead_s.and_then(chrono::TimeDelta::try_seconds) {
            Some(ahead) if ahead.num_days() <= AHEAD_DAYS_MAX => {
                Trend::Reaches(line, Moment::new(first.time() + ahead))
            }
            _ => Trend::Stays(line),
        }
    }

    /// The trend in a sentence.
    pub fn trend_text(&self) -> String {
        let n = self.points.len();
        let by = format!("a straight line through {n} readings, no promise");
        let pace = |line: &Line| {
            // A month of 30 days, so that the figure has a size that people can picture.
            let month = (&line.slope * BigInt::from(30)).to_f64().unwrap_or(0.0);
            let word = if line.slope.is_negative() { "falls" } else { "rises" };
            format!("{word} by {:.3} {} in 30 days", month.abs(), self.unit.symbol())
        };
        match self.trend() {
            Trend::TooFew if self.points.len() >= TREND_READINGS_MIN => {
                "none: all the readings are of one moment".to_owned()
            }
            Trend::TooFew => {
                format!("{n} of the {TREND_READINGS_MIN} readings that a trend needs, at the least")
            }
            Trend::Stays(line) if line.slope.is_zero() => format!("level ({by})"),
            Trend::Stays(line) => format!("{}; the limit is far ({by})", pace(&line)),
            Trend::Past(line) => format!("{}; PAST ITS LIMIT ({by})", pace(&line)),
            Trend::Reaches(line, at) => {
                let on = at.time().format("%-d %b %Y");
                format!("{}; REACHES ITS LIMIT about {on} ({by})", pace(&line))
            }
        }
    }
}
