//! The program: hands the command line to the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    witnessmark::cli::run(std::env::args_os())
}
