//! The stable codes of all diagnostics, each with its explanation. Numbers are never reused.

use std::fmt;

macro_rules! codes {
    ($(#[doc = $summary:literal] $variant:ident = $number:literal, $kebab:literal, $why:literal,
        $wrong:literal => $right:literal;)*) => {
        /// A diagnostic's code. The hundreds tell the stage: 1 syntax, 2 shape and names,
        /// 3 units and limits, 4 conditions, 5 the flow of steps, 6 files together, 7 wording and habits.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = $summary] $variant,)*
        }

        impl Code {
            /// Every code.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The code as shown, such as `WM101`.
            pub fn number(self) -> &'static str {
                match self { $(Self::$variant => concat!("WM", $number)),* }
            }

            /// The code's name, such as `bad-yaml`.
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $kebab),* }
            }

            /// One line without a full stop.
            pub fn summary(self) -> &'static str {
                let text = match self { $(Self::$variant => $summary),* };
                text.trim().trim_end_matches('.')
            }

            /// Why it matters and what to do.
            pub fn why(self) -> &'static str {
                match self { $(Self::$variant => $why),* }
            }

            /// An example of the mistake.
            pub fn wrong(self) -> &'static str {
                match self { $(Self::$variant => $wrong),* }
            }

            /// The same, mended.
            pub fn right(self) -> &'static str {
                match self { $(Self::$variant => $right),* }
            }
        }
    };
}

codes! {
    /// The text is not YAML.
    BadYaml = "101", "bad-yaml",
        "The file cannot be read as YAML, so nothing in it can be checked. The usual causes are a \
         wrong indent, a tab, a missing space after `:` and a text with `: ` or ` #` in it that \
         is not quoted.",
        "do:Drain the sump" => "do: Drain the sump";
    /// A key stands twice in one mapping.
    DuplicateKey = "102", "duplicate-key",
        "One of the two values would be lost, and readers of the file would not agree which. Keep \
         one of them.",
        "- id: wipe\n  do: Wipe the flanks.\n  do: Dry the flanks." =>
        "- id: wipe\n  do: Wipe the flanks.\n- id: dry\n  do: Dry the flanks.";
    /// A file holds more than one YAML document.
    SecondDocument = "103", "second-document",
        "What stands after a line `---` would not be looked at. Each procedure, equipment \
         description, rehearsal and shop has a file of its own.",
        "procedure: seal_change\n---\nprocedure: bearing_change" => "procedure: seal_change";
    /// An anchor, alias, tag or merge key.
    YamlFeature = "104", "yaml-feature",
        "These parts of YAML make a file mean something else than what it shows at that place. \
         Write the values out.",
        "base: &b {at_most: 0.05 mm}\nlimit: *b" => "limit: {at_most: 0.05 mm}";
    /// A control or direction-changing character.
    ControlCharacter = "105", "control-character",
        "Such a character is not seen, and it can act on a terminal or turn the order in which a \
         line is shown, so that people read something else than the program does. Delete it.",
        "title: PASS\\u{202e}LIAF" => "title: PASS";
    /// The file is too large or too deep.
    TooLarge = "106", "too-large",
        "The bounds keep a damaged or hostile file from holding up the program; a procedure that \
         people carry out stays far below them. Split the procedure and use `perform`.",
        "steps: [ … thousands of steps … ]" => "- id: teardown\n  perform: teardown";
    /// A letter of another script that looks like a Latin one.
    LookAlike = "107", "look-alike",
        "People read one word and the program another: a search does not find it, and a name \
         with it is not the name that it seems. It comes with text copied from elsewhere.",
        "title: S\\u{435}al change" => "title: Seal change";
    /// A key that the language does not have.
    UnknownKey = "201", "unknown-key",
        "A misspelt key would be left out without a word, and with it the check that it asks for. \
         Take the spelling that the message suggests.",
        "- id: spring\n  mesure: Free length" => "- id: spring\n  measure: Free length";
    /// A key that must be there is not.
    MissingKey = "202", "missing-key",
        "The step or file cannot be carried out without it. The message names the key.",
        "- id: spring\n  measure: Free length\n  unit: mm\n  limit: spring.free_length" =>
        "- id: spring\n  measure: Free length\n  with: caliper\n  unit: mm\n  \
         limit: spring.free_length\n  could_not_measure: {verdict: refer}";
    /// A value of the wrong shape or outside the allowed words.
    BadValue = "203", "bad-value",
        "The key is known, but this value is not one that it can have. The message says what can \
         stand there.",
        "performed_by: helper" => "performed_by: apprentice";
    /// A step has no action or more than one.
    OneAction = "204", "one-action",
        "A step is one instruction with one answer: exactly one of `do`, `check`, `look`, \
         `measure`, `enter`, `hold`, `section`, `perform`, `stop`. Split a step that has two.",
        "- id: cover\n  do: Lift the cover.\n  measure: Wear of the seat" =>
        "- id: cover\n  do: Lift the cover.\n- id: wear\n  measure: Wear of the seat";
    /// A text is not a name.
    BadName = "205", "bad-name",
        "Names stand in conditions and addresses: small letters, digits and `_`, a letter first. \
         There is no hyphen, for `-` is minus.",
        "- id: Free-length" => "- id: free_length";
    /// A name stands for two things.
    DuplicateName = "206", "duplicate-name",
        "A condition or an answer that uses the name could mean either. Rename one of them.",
        "- id: seat\n  do: Lift the seat.\n- id: seat\n  do: Wipe the seat." =>
        "- id: lift_seat\n  do: Lift the seat.\n- id: wipe_seat\n  do: Wipe the seat.";
    /// Something that a later version of the language will have.
    NotInThisVersion = "207", "not-in-this-version",
        "The word is kept for a later version. It is refused rather than passed over, so that no \
         one believes a check is made that is not. Say it with what this version has.",
        "- id: soak\n  wait: 10 min" => "- id: soak\n  do: Let the part soak for 10 minutes.";
    /// The file's format version is not one that this program reads.
    FormatVersion = "208", "format-version",
        "The first key of every file tells the version of the language. A file of a newer version \
         may hold rules that this program does not know.",
        "format: \"9.0\"" => "format: \"1.0\"";
    /// A text that YAML tools elsewhere re-type; it should be quoted.
    QuoteIt = "209", "quote-it",
        "This program keeps the text as it stands, but other tools read such a word as a number, a \
         time or true and false, and may write it back changed. Quotes make it a text everywhere.",
        "number: 0510210600" => "number: \"0510210600\"";
    /// A token that the procedure does not declare.
    UndeclaredToken = "210", "undeclared-token",
        "A token is a state that steps set, clear and need. Each is declared once under `tokens` \
         with its title, so that a misspelt one is not a state that nothing ever sets.",
        "- id: open\n  do: Open the drain.\n  needs: [lokced]" =>
        "tokens:\n  locked: {title: Locked at the isolator}";
    /// A unit that the program does not know.
    UnknownUnit = "301", "unknown-unit",
        "Units are written as in the table, and capitals count. This version has m, cm, mm, µm, in, \
         ft, thou, and `number` for a figure without a unit.",
        "at_least: 44.6 MM" => "at_least: 44.6 mm";
    /// A figure that cannot be read.
    BadFigure = "302", "bad-figure",
        "Figures in files are decimals with a point, with their unit behind them: no comma, no \
         grouped digits, no exponent.",
        "at_most: 0,05 mm" => "at_most: 0.05 mm";
    /// Figures of different dimension meet.
    DimensionMismatch = "303", "dimension-mismatch",
        "A length and a plain number can be neither compared nor added. Most often a unit is \
         missing.",
        "when: spring > 44.6" => "when: spring > 44.6 mm";
    /// A limit that nothing can meet, or with no bound.
    BadLimit = "304", "bad-limit",
        "Every reading would fail, or none could. Most often the two bounds are swapped.",
        "limit: {between: [45.4 mm, 44.6 mm]}" => "limit: {between: [44.6 mm, 45.4 mm]}";
    /// A condition that cannot be read.
    BadCondition = "401", "bad-condition",
        "Conditions have `and or not`, `== != < <= > >=`, `in`, `+ - * /`, brackets, the folds \
         `any all count sum min max mean` and `answered`. Comparisons do not chain.",
        "when: 44.6 mm < spring < 45.4 mm" => "when: 44.6 mm < spring and spring < 45.4 mm";
    /// A name in a condition that stands for nothing there.
    UndefinedName = "402", "undefined-name",
        "A condition can name steps, settings, positions and figures of the equipment file. The \
         name is misspelt, or it belongs to a section that must be named before it.",
        "when: sprig >= 44.6 mm" => "when: spring >= 44.6 mm";
    /// A condition compares things of different type.
    TypeMismatch = "403", "type-mismatch",
        "The two sides can never be equal, or the word is none of the findings, choices or verdicts \
         of that step, so the condition would always come out the same.",
        "when: diaphragm == tron" => "when: diaphragm == torn";
    /// `and` and `or` without brackets.
    MixedAndOr = "404", "mixed-and-or",
        "People do not agree which of the two goes first. Brackets say it.",
        "when: torn or hard and old" => "when: torn or (hard and old)";
    /// A name is used where not every path has answered it.
    NotYetAnswered = "405", "not-yet-answered",
        "On some path the condition would be asked before the step that it names, or without it. \
         Move the step, or ask `answered(…)` first.",
        "when: seat == torn" => "when: answered(seat) and seat == torn";
    /// A name in a condition that stands for two things.
    ShadowedName = "406", "shadowed-name",
        "The step nearest to the condition would be taken, and the other, which has the same name, \
         passed over without a word. Whoever reads the line may think of either.",
        "constants: {wash: {at_most: {value: 3}}}, and in the section `wash` a step `at_most`" =>
        "the step is called `times`";
    /// An outcome of a step has no exit.
    MissingExit = "501", "missing-exit",
        "The person would stand there with a failed part and no instruction. Every outcome has an \
         exit, and `could not measure` is an outcome too.",
        "limit: {at_least: 44.6 mm}\ncould_not_measure: {verdict: refer}" =>
        "limit: {at_least: 44.6 mm}\nbelow: {verdict: replace, parts: [spring]}\n\
         could_not_measure: {verdict: refer}";
    /// An exit or bound that can never be taken.
    UnusedExit = "502", "unused-exit",
        "The author thought of a case that the limit does not have: the bound is missing, or the \
         exit is a leftover.",
        "limit: {at_least: 44.6 mm}\nbelow: {verdict: refer}\nabove: {verdict: refer}" =>
        "limit: {at_least: 44.6 mm}\nbelow: {verdict: refer}";
    /// A procedure performs itself, directly or not.
    PerformCircle = "503", "perform-circle",
        "Such a procedure would never end. For work that is done again there is `repeat`, and the \
         verdict `rework`.",
        "procedure: flush\nsteps:\n- id: again\n  perform: flush" =>
        "procedure: flush\nsteps:\n- id: wash\n  section: Flush\n  repeat: {until: clean, at_most: 3, …}";
    /// The unrolled procedure is too large.
    TooManySteps = "504", "too-many-steps",
        "Positions, repeats and performed procedures multiply. With all of them written out the \
         procedure has more steps than can be checked.",
        "repeat: {until: clean, at_most: 100000, …}" => "repeat: {until: clean, at_most: 4, …}";
    /// The hold point that the header demands is missing.
    MissingHold = "505", "missing-hold",
        "`energy` says that nobody passes until a second person has seen that every energy is cut off. \
         The step that it names is none, or asks for no signature.",
        "energy: {states: [isolated, locked], hold: seen}\nsteps:\n- id: seen\n  do: Look at the locks." =>
        "energy: {states: [isolated, locked], hold: seen}\nsteps:\n- id: seen\n  hold: Confirm that the \
         locks are on.";
    /// A free order between steps that hang on each other.
    OrderMatters = "511", "order-matters",
        "`any_order` says that the steps may be taken as they come. One that reads what another \
         answers, or that needs a state which another sets, gives another job in another order: \
         then the order is not free.",
        "any_order: true, with `when: first == torn` inside" => "the step that reads `first` after the section";
    /// A concession where something hangs on the decision.
    NoConcession = "512", "no-concession",
        "A concession puts a mechanic's decision in place of the procedure's own. That cannot be \
         where a state of the machine or a promise hangs on the decision, nor where a step gives \
         none.",
        "do: Wipe the seat\nconcession: mechanic" => "do: Wipe the seat";
    /// A promise that some path breaks.
    BrokenPromise = "521", "broken-promise",
        "Somebody wrote down why this must hold, and the shortest answers that break it are shown. \
         `prove --save` keeps them as a rehearsal. Mend the steps, not the promise.",
        "always: [{first: lock, before: open}] with `when: large` at `lock`" =>
        "the same, with `lock` on every path";
    /// A state of the machine that is not in force where a step needs it.
    StateNotInForce = "522", "state-not-in-force",
        "On some path nothing has set the state, or something has cleared it since. The walk would \
         refuse the step and the person would stand there.",
        "do: Open the vent\nneeds: [locked]" =>
        "do: Hang your lock\nsets: [locked]   # before it, on every path";
    /// A promise that is neither proved nor broken.
    NotProven = "523", "not-proven",
        "Some path breaks the promise if answers come together as it takes them to, and no figures \
         were found that do. Most often it hangs on how two readings compare.",
        "never: [{reach: close, when: bore > rod}]" => "a limit of its own for `bore` and for `rod`";
    /// A step that no path comes to.
    DeadStep = "524", "dead-step",
        "Nobody will ever be asked this step, whatever the machine and the answers. The author \
         thought that somebody would.",
        "when: seat == torn and seat == fine" => "when: seat == torn";
    /// A condition that always comes out the same.
    ConstantCondition = "525", "constant-condition",
        "The condition decides nothing: on every path it is true, or on every path false.",
        "when: seat == torn or seat != torn" => "when: seat == torn";
    /// Two conditions of steps side by side leave out the bound itself, or both take it.
    HoleAtBound = "526", "hole-at-bound",
        "One step is for readings below a figure and another for those above it. A reading of exactly \
         that figure gets neither of them, or both. Let one of the two have the figure.",
        "- when: gap < 0.30 mm\n  do: Leave the shim.\n- when: gap > 0.30 mm\n  do: Change the shim." =>
        "- when: gap <= 0.30 mm\n  do: Leave the shim.\n- when: gap > 0.30 mm\n  do: Change the shim.";
    /// A performed procedure, equipment file or figure is not there.
    UndefinedReference = "601", "undefined-reference",
        "Another file should give it and does not: the name is misspelt, or the file is missing \
         from the folder.",
        "limit: spring.fre_length" => "limit: spring.free_length";
    /// A procedure is written for other equipment.
    WrongEquipment = "602", "wrong-equipment",
        "Its limits and positions would be those of another machine. A procedure performs only \
         procedures for the same equipment or for its family.",
        "equipment: gear_reducer\nsteps:\n- id: liner\n  perform: pump_liner" =>
        "equipment: gear_reducer\nsteps:\n- id: wheel\n  perform: wheel_renewal";
    /// The same id is given by two files.
    DuplicateFile = "603", "duplicate-file",
        "Which of the two is performed would depend on the order of the files. Rename one, or \
         delete the copy.",
        "flush.yaml:      procedure: flush\nflush_copy.yaml: procedure: flush" =>
        "flush.yaml:      procedure: flush\nwash.yaml:       procedure: wash";
    /// A part is listed that no stack lays and no procedure names.
    PartNotUsed = "604", "part-not-used",
        "The store keeps it, and nobody is ever told to fit it; or the step that renews it forgot to \
         say so. This is looked at where one of the files checked performs others, as for a whole job.",
        "parts: {gauge_glass: {title: Gauge glass}}   # and named nowhere" =>
        "- id: glass\n  do: Fit a new gauge glass.\n  fits: [gauge_glass]";
    /// A safety message is not there in a language that the procedure promises.
    MissingTranslation = "605", "missing-translation",
        "Whoever reads that language is sent to a hazard without a word. A procedure that lists a \
         language has every one of its safety messages in it, and so has all that it performs.",
        "languages: [de]\nsteps:\n- warning: {hazard: Hot oil, consequence: Burns., avoid: Wait.}\n  \
         do: Drain the oil." =>
        "languages: [de]\nsteps:\n- warning:\n    hazard: Hot oil\n    consequence: Burns.\n    avoid: Wait.\n    \
         in: {de: {word: WARNUNG, hazard: Heißes Öl, consequence: Verbrennungen., avoid: Warten.}}\n  \
         do: Drain the oil.";

    /// A sentence is too long to be kept in mind.
    LongSentence = "701", "long-sentence",
        "Whoever has the part in their hands reads a line once. An instruction has at most 20 \
         words a sentence, a description 25. A number with its unit counts as one word, a tag \
         such as `P-101B` as one. Make two sentences of it, or move the reason to `why`.",
        "do: Take the cover, which is the one with the two short studs that was marked before the \
         pump was moved to the bench, off its dowels." =>
        "do: Take the marked cover off its dowels.\nwhy: It is the one with the two short studs.";
    /// A text has too many sentences.
    LongText = "702", "long-text",
        "A text of more than six sentences is skipped at the bench. Cut it, or make steps of it.",
        "do: One. Two. Three. Four. Five. Six. Seven." => "do: Lift the cover.";
    /// More than three nouns stand in a row.
    NounCluster = "703", "noun-cluster",
        "In a row of nouns each can belong to any other, and people do not agree which. Say with \
         `of`, `for` or `on` what belongs to what.",
        "do: Lift the pump valve plate seal ring." =>
        "do: Lift the seal ring of the valve plate.";
    /// One step or sentence gives two instructions.
    TwoInstructions = "704", "two-instructions",
        "The second is overlooked, or done without being asked for, and one answer stands for \
         both. Make two steps of it. What has to be done at once says so: `while holding A, turn \
         B`.",
        "do: Remove the cover and clean it." =>
        "- id: cover_off\n  do: Remove the cover.\n- id: cover_clean\n  do: Clean the cover.";
    /// An instruction or a safety text does not open with its command or condition.
    NotACommand = "705", "not-a-command",
        "`The nut should be tightened` does not say who does it, or whether it is done already. \
         Begin with the verb, or with the condition and a comma. A safety text begins with what to \
         do or to leave.",
        "do: The nut should be tightened." => "do: Tighten the nut.";
    /// A word that everybody takes otherwise.
    VagueWord = "706", "vague-word",
        "`Adequate`, `tight` or `as required` leave the decision to whoever reads it. Say how \
         much, when, or what is seen. The message offers the form that the language has for it.",
        "do: Grease the stem as required." =>
        "do: Grease the stem.\nexpect: A film of grease covers both flats.";
    /// One thing is called by two names.
    TwoNames = "707", "two-names",
        "Whoever reads looks for a second thing. The name in the list of tools and supplies holds; \
         otherwise the first one in the file.",
        "needs: {tools: [ring_spanner]}\nsteps:\n- do: Ease the nuts with the wrench." =>
        "needs: {tools: [ring_spanner]}\nsteps:\n- do: Ease the nuts with the ring spanner.";
    /// A nominal figure with a tolerance instead of a range.
    NominalAndTolerance = "708", "nominal-and-tolerance",
        "Nobody should work out a range in the head with a wrench in the hands. Give the least and \
         the greatest figure as they are read on the instrument.",
        "expect: The wrench clicks at 200 N·m ± 4 %." =>
        "expect: The wrench clicks at 192 to 208 N·m.";
    /// A limit is in another unit than its reading.
    OtherUnit = "709", "other-unit",
        "The person would have to convert before seeing whether the reading is near its limit. \
         Give the limit in the unit on the instrument's scale.",
        "unit: mm\nlimit: {at_most: 0.002 in}" => "unit: mm\nlimit: {at_most: 0.05 mm}";
    /// A condition stands behind the action that it guards.
    LateCondition = "710", "late-condition",
        "Whoever reads from left to right has begun before the `if` comes. Let a `look` or an \
         `enter` ask for it and give the step a `when`, so that the program decides and the record \
         shows why.",
        "do: Replace the ring if it is worn." =>
        "when: ring == worn\ndo: Replace the ring.";
    /// A note gives an order.
    OrderInNote = "711", "order-in-note",
        "Notes (`why`, `expect`, `likely_cause`) inform; they are not answered, and may be left \
         unread. What has to be done is a step.",
        "do: Lift the plate.\nwhy: Remove the dowels before." =>
        "- id: dowels\n  do: Remove the dowels.\n- id: plate\n  do: Lift the plate.";
    /// A note speaks of a hazard.
    HazardInNote = "712", "hazard-in-note",
        "A hazard is said before the action, whole, and acknowledged on its own. In a note it may \
         be left unread.",
        "do: Open the vent.\nwhy: There is a danger from the jet." =>
        "warning: {hazard: Jet from the vent, consequence: It can blind., avoid: Stand beside it.}\n\
         do: Open the vent.";
    /// A safety message hides an action, a tool or a value.
    ActionInWarning = "713", "action-in-warning",
        "What the job needs is done in a step, where it is asked and answered. The message says \
         only how not to get hurt, so that nothing is lost when it is acknowledged.",
        "avoid: Set the relief valve to 2 bar." =>
        "- id: relief\n  do: Set the relief valve to 2 bar.";
    /// Safety text stands inside an instruction.
    SafetyInAction = "714", "safety-in-action",
        "It would be read with the hands already at work. As `danger`, `warning`, `caution` or \
         `notice` it is shown before the action, whole, and acknowledged on its own.",
        "do: \"Warning: hot oil. Drain the case.\"" =>
        "caution: {hazard: Hot oil, consequence: Burnt skin., avoid: Keep skin away.}\n\
         do: Drain the case.";
    /// A signal word does not fit the harm.
    SignalWord = "715", "signal-word",
        "Under `ansi-z535` DANGER, WARNING and CAUTION are about people; NOTICE is about property. \
         People who see CAUTION for a scratched face stop reading it.",
        "caution: {hazard: Hard tools, consequence: Scratched face., avoid: Use wood.}" =>
        "notice: {hazard: Hard tools, consequence: Scratched face., avoid: Use wood.}";
    /// A `check` handles a part.
    HandlingInCheck = "716", "handling-in-check",
        "A check compares what is there with what should be. Whoever turns or opens something \
         changes it, and that is a step with an answer of its own.",
        "check: Turn the shaft and see that it runs free." =>
        "- id: turn\n  do: Turn the shaft by hand.\n- id: free\n  check: Confirm that it runs free.";
    /// A critical step without an expected result.
    NoExpectedResult = "717", "no-expected-result",
        "A step that sets, clears or needs a state, or that can kill, must let the person tell \
         whether it worked. Say what is seen, heard or read.",
        "do: Hang your lock on the isolator.\nsets: [locked]" =>
        "do: Hang your lock on the isolator.\nsets: [locked]\nexpect: The handle cannot be moved.";
    /// A limit or a constant without a basis.
    NoBasis = "718", "no-basis",
        "A figure that nobody can trace is neither trusted nor ever corrected. Name the drawing, \
         the manual or the shop's standard under `basis`.",
        "limit: {at_most: 0.05 mm}" => "limit: {at_most: 0.05 mm}\nbasis: Shop standard 12";
    /// Something is used and not listed under `needs`.
    NotListed = "719", "not-listed",
        "The list of needs is confirmed before step 1. What is missing there is missed in the \
         middle of the job, with the machine open.",
        "needs: {tools: []}\nsteps:\n- do: Draw the seat.\n  uses: [seat_puller]" =>
        "needs: {tools: [seat_puller]}";
    /// Something is listed under `needs` and never used.
    NotUsed = "720", "not-used",
        "People fetch it for nothing and soon confirm the list unread; or the step that takes it \
         forgot to say so.",
        "needs: {tools: [seat_puller]}" =>
        "needs: {tools: [seat_puller]}\nsteps:\n- do: Draw the seat.\n  uses: [seat_puller]";
    /// A revision holds from a day before it was made.
    EffectiveTooEarly = "721", "effective-too-early",
        "A procedure is known by its id, its revision and the day from which it holds. A day \
         before the change itself makes jobs of that time look worked by a text that did not exist.",
        "effective: 2026-01-01\nrevisions:\n- {revision: 3, date: 2026-08-20, …}" =>
        "effective: 2026-09-01\nrevisions:\n- {revision: 3, date: 2026-08-20, …}";
    /// A comment that allows a warning is incomplete.
    BadAllowance = "722", "bad-allowance",
        "Whoever comes after has to know why a warning was let stand. The comment names one code \
         and the reason.",
        "do: Make it tight. # allow WM706" =>
        "do: Make it tight. # allow WM706: the drawing's own word";
    /// A comment allows a warning that is not there.
    UnusedAllowance = "723", "unused-allowance",
        "The text has been mended, or the comment stands at another line. Left there it would hide \
         the next mistake. Errors cannot be allowed at all.",
        "do: Lift the cover. # allow WM706: drawing" => "do: Lift the cover.";
    /// A list that is done first and confirmed then is too long to keep in mind.
    LongConfirmList = "724", "long-confirm-list",
        "What is done first and confirmed then is done from memory. Nine lines are the most that \
         people keep in mind; of a longer list some are confirmed that were never done.",
        "section: Before the run\nmode: do_confirm\nsteps:\n- check: Confirm the valves.\n  items: [ten lines, …]" =>
        "section: Before the run\nmode: do_confirm\nsteps:\n- check: Confirm the suction side.\n  \
         items: [five lines, …]\n- check: Confirm the delivery side.\n  items: [five lines, …]";
    /// Nothing says how readings are compared with a limit.
    NoComparison = "725", "no-comparison",
        "Whether 2.034 keeps to a limit of 2.03 hangs on whether it is rounded first. No rule of the \
         trade settles that; the file must. Until it does, readings are compared as they are.",
        "limits:\n  seat: {depth: {at_most: 2.03 mm, basis: Drawing 12}}" =>
        "compare: absolute\nlimits:\n  seat: {depth: {at_most: 2.03 mm, basis: Drawing 12}}";
}

impl Code {
    /// Reads a code from its number or its name, as people type them: `WM204`, `wm204`,
    /// `one-action`.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        Self::ALL
            .iter()
            .copied()
            .find(|code| code.number().eq_ignore_ascii_case(text) || code.name() == text)
    }

    /// The long text: what it is, why it matters, an example and its mend.
    pub fn explanation(self) -> String {
        let inset = |example: &str| -> String {
            example.lines().flat_map(|line| ["    ", line, "\n"]).collect()
        };
        format!(
            "{} ({})\n\n{}.\n\n{}\n\nWrong:\n\n{}\nRight:\n\n{}",
            self.number(),
            self.name(),
            self.summary(),
            self.why(),
            inset(self.wrong()),
            inset(self.right()),
        )
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.number())
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_code_has_its_own_number_and_name_and_is_explained() {
        let mut seen = BTreeSet::new();
        for &code in Code::ALL {
            assert!(seen.insert(code.number()) && seen.insert(code.name()), "{code}");
            assert_eq!(Code::parse(code.number()), Some(code));
            assert_eq!(Code::parse(code.name()), Some(code));
            assert!(!code.summary().is_empty() && !code.summary().ends_with('.'), "{code}");
            assert!(code.why().ends_with('.'), "{code}");
            assert_ne!(code.wrong(), code.right(), "{code}");
        }
        assert_eq!(Code::parse("wm204"), Some(Code::OneAction));
        assert_eq!(Code::parse("WM999"), None);
    }

    #[test]
    fn an_explanation_shows_the_mistake_and_its_mend() {
        assert_eq!(
            Code::MixedAndOr.explanation(),
            "WM404 (mixed-and-or)\n\n`and` and `or` without brackets.\n\nPeople do not agree which \
             of the two goes first. Brackets say it.\n\nWrong:\n\n    when: torn or hard and old\n\n\
             Right:\n\n    when: torn or (hard and old)\n"
        );
    }
}
