//! Conditions and formulas: parse, type, evaluate.
//!
//! Small, typed and total: no loops, no functions of the author's own. This module knows nothing of
//! steps; `walk::flow` tells it what names mean.

pub mod ast;
pub mod eval;
mod lex;
pub mod parse;
pub mod typing;

pub use ast::{Arithmetic, Comparison, Condition, Expr, Fold, Path};
pub use eval::{Lookup, Value};
pub use typing::Type;
