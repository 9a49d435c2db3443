//! One set of tests for every engine.

mod arena;
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
    };
}
pub(super) use on_every_engine;
