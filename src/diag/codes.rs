//! The stable codes of all diagnostics. Numbers are never reused.

macro_rules! codes {
    ($($(#[$doc:meta])* $variant:ident = $number:literal, $kebab:literal;)*) => {
        /// A diagnostic's code. The hundreds tell the stage: 1 syntax, 2 shape and names,
        /// 3 units and limits, 4 conditions, 5 the flow of steps, 6 files together.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $($(#[$doc])* $variant,)*
        }

        impl Code {
            /// Every code.
            pub const ALL: &'static [Code] = &[$(Code::$variant),*];

            /// The code as shown, such as `WM101`.
            pub fn number(self) -> &'static str {
                match self { $(Self::$variant => concat!("WM", $number)),* }
            }

            /// The code's name, such as `bad-yaml`.
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $kebab),* }
            }
        }
    };
}

codes! {
    /// The text is not YAML.
    BadYaml = "101", "bad-yaml";
    /// A key stands twice in one mapping.
    DuplicateKey = "102", "duplicate-key";
    /// A file holds more than one YAML document.
    SecondDocument = "103", "second-document";
    /// An anchor, alias, tag or merge key.
    YamlFeature = "104", "yaml-feature";
    /// A control or direction-changing character.
    ControlCharacter = "105", "control-character";
    /// The file is too large or too deep.
    TooLarge = "106", "too-large";
    /// A key that the language does not have.
    UnknownKey = "201", "unknown-key";
    /// A key that must be there is not.
    MissingKey = "202", "missing-key";
    /// A value of the wrong shape or outside the allowed words.
    BadValue = "203", "bad-value";
    /// A step has no action or more than one.
    OneAction = "204", "one-action";
    /// A text is not a name.
    BadName = "205", "bad-name";
    /// A name stands for two things.
    DuplicateName = "206", "duplicate-name";
    /// Something that a later version of the language will have.
    NotInThisVersion = "207", "not-in-this-version";
    /// The file's format version is not one that this program reads.
    FormatVersion = "208", "format-version";
    /// A text that YAML tools elsewhere re-type; it should be quoted.
    QuoteIt = "209", "quote-it";
    /// A token that the procedure does not declare.
    UndeclaredToken = "210", "undeclared-token";
    /// A unit that the program does not know.
    UnknownUnit = "301", "unknown-unit";
    /// A figure that cannot be read.
    BadFigure = "302", "bad-figure";
    /// Figures of different dimension meet.
    DimensionMismatch = "303", "dimension-mismatch";
    /// A limit that nothing can meet, or with no bound.
    BadLimit = "304", "bad-limit";
    /// A condition that cannot be read.
    BadCondition = "401", "bad-condition";
    /// A name in a condition that stands for nothing there.
    UndefinedName = "402", "undefined-name";
    /// A condition compares things of different type.
    TypeMismatch = "403", "type-mismatch";
    /// `and` and `or` without brackets.
    MixedAndOr = "404", "mixed-and-or";
    /// A name is used where not every path has answered it.
    NotYetAnswered = "405", "not-yet-answered";
    /// An outcome of a step has no exit.
    MissingExit = "501", "missing-exit";
    /// An exit or bound that can never be taken.
    UnusedExit = "502", "unused-exit";
    /// A procedure performs itself, directly or not.
    PerformCircle = "503", "perform-circle";
    /// The unrolled procedure is too large.
    TooManySteps = "504", "too-many-steps";
    /// A performed procedure, equipment file or figure is not there.
    UndefinedReference = "601", "undefined-reference";
    /// A procedure is written for other equipment.
    WrongEquipment = "602", "wrong-equipment";
    /// The same id is given by two files.
    DuplicateFile = "603", "duplicate-file";
}
