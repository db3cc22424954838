//! Registered safety signs, by their code. A terminal cannot draw them; their code and what they mean it
//! can say, and the code is the same in every language and on every machine.

/// A safety sign of ISO 7010.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sign {
    /// Its code in the register: `W` warns, `M` demands, `P` forbids.
    pub code: &'static str,
    /// What it means, in our words.
    pub meaning: &'static str,
}

impl Sign {
    /// The sign with this code; only those that this program knows.
    pub fn find(code: &str) -> Option<Self> {
        ALL.iter().copied().find(|sign| sign.code == code)
    }
}

impl std::fmt::Display for Sign {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.code, self.meaning)
    }
}

/// The signs that a machine shop meets. Codes and meanings of ISO 7010:2019 from memory; M003, M004, M008
/// to M010, M013, M014, M016, M017, M027, M028, W012, W017, W021 and P002 to P004 were compared with public
/// listings of the register.
const ALL: &[Sign] = &[
    Sign { code: "W001", meaning: "general warning" },
    Sign { code: "W002", meaning: "explosive material" },
    Sign { code: "W010", meaning: "low temperature" },
    Sign { code: "W011", meaning: "slippery surface" },
    Sign { code: "W012", meaning: "electricity" },
    Sign { code: "W015", meaning: "suspended load" },
    Sign { code: "W016", meaning: "toxic material" },
    Sign { code: "W017", meaning: "hot surface" },
    Sign { code: "W018", meaning: "automatic start-up" },
    Sign { code: "W019", meaning: "crushing" },
    Sign { code: "W021", meaning: "flammable material" },
    Sign { code: "W022", meaning: "sharp element" },
    Sign { code: "W023", meaning: "corrosive substance" },
    Sign { code: "W024", meaning: "crushing of hands" },
    Sign { code: "W025", meaning: "counter-rotating rollers" },
    Sign { code: "W029", meaning: "pressurised cylinder" },
    Sign { code: "W035", meaning: "falling objects" },
    Sign { code: "M001", meaning: "general mandatory action" },
    Sign { code: "M002", meaning: "read the instruction manual" },
    Sign { code: "M003", meaning: "ear protection" },
    Sign { code: "M004", meaning: "eye protection" },
    Sign { code: "M008", meaning: "safety footwear" },
    Sign { code: "M009", meaning: "protective gloves" },
    Sign { code: "M010", meaning: "protective clothing" },
    Sign { code: "M011", meaning: "wash your hands" },
    Sign { code: "M013", meaning: "face shield" },
    Sign { code: "M014", meaning: "head protection" },
    Sign { code: "M015", meaning: "high-visibility clothing" },
    Sign { code: "M016", meaning: "mask" },
    Sign { code: "M017", meaning: "respiratory protection" },
    Sign { code: "M018", meaning: "safety harness" },
    Sign { code: "M021", meaning: "disconnect before maintenance or repair" },
    Sign { code: "M026", meaning: "protective apron" },
    Sign { code: "M027", meaning: "check the guard" },
    Sign { code: "M028", meaning: "keep locked" },
    Sign { code: "P001", meaning: "general prohibition" },
    Sign { code: "P002", meaning: "no smoking" },
    Sign { code: "P003", meaning: "no open flame" },
    Sign { code: "P004", meaning: "no thoroughfare" },
    Sign { code: "P010", meaning: "do not touch" },
    Sign { code: "P011", meaning: "do not extinguish with water" },
    Sign { code: "P015", meaning: "no reaching in" },
    Sign { code: "P022", meaning: "no eating or drinking" },
    Sign { code: "P031", meaning: "do not alter the state of the switch" },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::language::words;

    #[test]
    fn the_signs_are_the_words_of_the_language_and_each_says_its_code_and_meaning() {
        assert_eq!(ALL.iter().map(|sign| sign.code).collect::<Vec<_>>(), words::SIGNS);
        assert_eq!(Sign::find("M009").unwrap().to_string(), "M009 protective gloves");
        assert_eq!(Sign::find("M999"), None);
    }
}
