//! Styles by role. Views name a role and never a colour.
//!
//! Only the sixteen colours that every terminal has, and none of them alone: each role has a word,
//! a letter or a weight of its own as well, so that a screen without colour says the same.

use ratatui::style::{Color, Modifier, Style};

use super::graphics::Graphics;

/// What the terminal can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Look {
    /// Only ASCII.
    pub ascii: bool,
    /// No colours. Words, letters, weight and reversed text say the same.
    pub no_colour: bool,
    /// How many colours photos are drawn with; everything else keeps to sixteen.
    pub colours: Colours,
    /// How the terminal takes pictures, where it does.
    pub graphics: Option<Graphics>,
}

/// How many colours a terminal has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Colours {
    /// The sixteen that every terminal has.
    #[default]
    Sixteen,
    /// A cube of 216, and greys.
    Cube,
    /// All.
    All,
}

/// What a piece of text is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Text.
    Plain,
    /// The one thing to do.
    Task,
    /// A heading or a label.
    Label,
    /// What may be left unread.
    Quiet,
    /// The head line.
    Head,
    /// The mark of a demo job.
    Demo,
    /// A key in the foot line.
    Key,
    /// DANGER.
    Danger,
    /// WARNING.
    Warning,
    /// CAUTION.
    Caution,
    /// NOTICE.
    Notice,
    /// Within the limit, saved, done.
    Good,
    /// Out of the limit, refused, not saved.
    Bad,
    /// To be looked at.
    Look,
    /// What is picked.
    Picked,
    /// What is typed.
    Typed,
}

impl Role {
    /// Every role.
    pub const ALL: [Self; 16] = [
        Self::Plain,
        Self::Task,
        Self::Label,
        Self::Quiet,
        Self::Head,
        Self::Demo,
        Self::Key,
        Self::Danger,
        Self::Warning,
        Self::Caution,
        Self::Notice,
        Self::Good,
        Self::Bad,
        Self::Look,
        Self::Picked,
        Self::Typed,
    ];

    /// How it looks. No two roles look the same.
    pub fn style(self) -> Style {
        let style = Style::new();
        let (bold, underlined) = (Modifier::BOLD, Modifier::UNDERLINED);
        match self {
            Self::Plain => style,
            Self::Task => style.add_modifier(bold),
            Self::Label => style.add_modifier(underlined),
            Self::Quiet => style.add_modifier(Modifier::DIM),
            Self::Head => style.add_modifier(Modifier::REVERSED),
            Self::Demo => style.fg(Color::Black).bg(Color::Magenta).add_modifier(bold),
            Self::Key => style.add_modifier(bold | Modifier::REVERSED),
            Self::Danger => style.fg(Color::White).bg(Color::Red).add_modifier(bold),
            Self::Warning => style.fg(Color::Black).bg(Color::Yellow).add_modifier(bold),
            Self::Caution => style.fg(Color::Black).bg(Color::Yellow),
            Self::Notice => style.fg(Color::White).bg(Color::Blue).add_modifier(bold),
            Self::Good => style.fg(Color::Green).add_modifier(bold),
            Self::Bad => style.fg(Color::Red).add_modifier(bold),
            Self::Look => style.fg(Color::Magenta).add_modifier(bold),
            Self::Picked => style.add_modifier(bold | underlined),
            Self::Typed => style.add_modifier(bold | underlined | Modifier::DIM),
        }
    }

    /// The role that looks like `style`.
    pub fn of(style: Style) -> Option<Self> {
        let seen = |s: Style| {
            let colour = |c: Option<Color>| c.filter(|c| *c != Color::Reset);
            (colour(s.fg), colour(s.bg), s.add_modifier)
        };
        Self::ALL.into_iter().find(|role| seen(role.style()) == seen(style))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_roles_look_the_same() {
        for role in Role::ALL {
            assert_eq!(Role::of(role.style()), Some(role));
        }
    }
}
