//! Passphrases of plain words, so that a person can type what the demo prints.

use ssh_key::rand_core::{OsRng, RngCore as _};
use zeroize::Zeroizing;

use super::DemoError;

const WORDS: [&str; 64] = [
    "anvil", "arbor", "basin", "beacon", "bevel", "birch", "bobbin", "bolt", "brine", "buoy",
    "cable", "cedar", "chalk", "clamp", "cliff", "copper", "crane", "delta", "dune", "ember",
    "fern", "flint", "gauge", "gravel", "gull", "harbor", "heather", "hinge", "inlet", "iron",
    "jetty", "kelp", "ladle", "lantern", "ledge", "lever", "linen", "lock", "maple", "marsh",
    "mast", "mortar", "nettle", "oak", "osier", "paddle", "pebble", "pier", "plank", "quarry",
    "reed", "ridge", "rivet", "rope", "saddle", "salt", "shale", "sluice", "spruce", "tide",
    "timber", "valve", "wharf", "willow",
];

/// Four random words. Enough for a demo whose passphrases are printed anyway.
///
/// # Errors
/// The system has no randomness to give.
pub(super) fn passphrase() -> Result<Zeroizing<String>, DemoError> {
    let mut bytes = [0u8; 4];
    OsRng.try_fill_bytes(&mut bytes).map_err(|error| DemoError::Random(error.to_string()))?;
    let words: Vec<&str> = bytes
        .iter()
        .filter_map(|byte| WORDS.get(usize::from(*byte) % WORDS.len()).copied())
        .collect();
    Ok(Zeroizing::new(words.join("-")))
}
