//! One set of tests for every engine, and what can happen to the embedded one's file.

#![allow(clippy::print_stderr, reason = "a test that is skipped should say so")]

mod arena;
mod dying;
mod ended;
mod faults;
mod full;
mod replaced;
mod working;

/// Makes a test for each engine out of a function that takes an arena.
macro_rules! on_every_engine {
    ($($name:ident),+ $(,)?) => {
        mod embedded {
            $(#[test]
            fn $name() {
                super::$name(&crate::night::queue::tests::arena::Arena::embedded());
            })+
        }
        #[cfg(feature = "many-machines")]
        mod server {
            $(#[test]
            fn $name() {
                match crate::night::queue::tests::arena::Arena::on_server() {
                    Some(arena) => super::$name(&arena),
                    None => eprintln!("SKIPPED: HOUSELIGHTS_POSTGRES does not give the address of a server"),
                }
            })+
        }
    };
}
pub(super) use on_every_engine;
