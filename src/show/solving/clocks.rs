//! Clocks that a person sets: which body is meant.

use crate::light::cues::GivenClock;
use crate::light::reading::FrameLight;
use crate::raw::facts::Body;
use serde::{Deserialize, Serialize};

/// A clock as a person sets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClockWish {
    /// Model, serial number, or how one of them begins.
    pub body: String,
    /// Seconds that the body's clock is ahead of the first body's.
    pub ahead_seconds: f64,
}

/// Why a body's clock cannot be set.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ClockError {
    /// No body is called so.
    #[error("no body of this show is called {body}; there is {found}")]
    NoBody {
        /// As it was typed.
        body: String,
        /// The bodies there are.
        found: String,
    },
    /// Several bodies are called so.
    #[error("several bodies are called {body}: {found}; give a serial number")]
    SeveralBodies {
        /// As it was typed.
        body: String,
        /// Those bodies.
        found: String,
    },
    /// One body's clock was set twice.
    #[error("the clock of {body} is set twice; keep one")]
    Twice {
        /// The body in words.
        body: String,
    },
}

/// Finds the bodies that are meant.
pub(super) fn given_clocks(
    wishes: &[ClockWish],
    frames: &[FrameLight],
) -> Result<Vec<GivenClock>, ClockError> {
    let mut bodies: Vec<&Body> = Vec::new();
    for frame in frames {
        if !bodies.contains(&&frame.facts.body) {
            bodies.push(&frame.facts.body);
        }
    }
    let mut given: Vec<GivenClock> = Vec::new();
    for wish in wishes {
        let body = body_called(&wish.body, &bodies)?;
        if given.iter().any(|known| known.body == *body) {
            return Err(ClockError::Twice {
                body: in_words(body),
            });
        }
        given.push(GivenClock {
            body: body.clone(),
            ahead_seconds: wish.ahead_seconds,
        });
    }
    Ok(given)
}

/// The one body with this serial number or model, or else the one whose serial number or model begins so.
fn body_called<'a>(name: &str, bodies: &[&'a Body]) -> Result<&'a Body, ClockError> {
    let wanted = name.trim().to_lowercase();
    let names = |body: &Body| {
        let both = format!("{} {}", body.make, body.model);
        [
            body.serial.clone().unwrap_or_default(),
            body.model.clone(),
            both,
        ]
        .map(|name| name.trim().to_lowercase())
    };
    let is_called = |body: &Body| names(body).contains(&wanted);
    let begins = |body: &Body| names(body).iter().any(|name| name.starts_with(&wanted));
    let exact: Vec<&Body> = bodies
        .iter()
        .copied()
        .filter(|body| is_called(body))
        .collect();
    let found: Vec<&Body> = match exact[..] {
        [] => bodies.iter().copied().filter(|body| begins(body)).collect(),
        _ => exact,
    };
    let listed = |bodies: &[&Body]| {
        let words: Vec<String> = bodies.iter().map(|body| in_words(body)).collect();
        words.join(", ")
    };
    match found[..] {
        _ if wanted.is_empty() => Err(ClockError::NoBody {
            body: format!("\"{name}\""),
            found: listed(bodies),
        }),
        [body] => Ok(body),
        [] => Err(ClockError::NoBody {
            body: name.to_owned(),
            found: listed(bodies),
        }),
        _ => Err(ClockError::SeveralBodies {
            body: name.to_owned(),
            found: listed(&found),
        }),
    }
}

pub(super) fn in_words(body: &Body) -> String {
    // Many models begin with their make.
    let name = match body.model.starts_with(&body.make) {
        true => body.model.clone(),
        false => format!("{} {}", body.make, body.model),
    };
    let name = match name.trim() {
        "" => "a body without a name",
        name => name,
    };
    match &body.serial {
        Some(serial) => format!("{name} (serial number {serial})"),
        None => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(model: &str, serial: Option<&str>) -> FrameLight {
        let facts = crate::raw::facts::Facts {
            body: Body {
                make: "Halm".to_owned(),
                model: model.to_owned(),
                serial: serial.map(str::to_owned),
            },
            ..Default::default()
        };
        FrameLight {
            facts,
            reading: None,
            colour: Default::default(),
            is_reference: false,
        }
    }

    fn clock(body: &str) -> ClockWish {
        ClockWish {
            body: body.to_owned(),
            ahead_seconds: 12.5,
        }
    }

    #[test]
    fn bodies_are_known_by_model_serial_number_or_how_they_begin() {
        let frames = [
            frame("One", Some("10004417")),
            frame("One", Some("10004417")),
            frame("Two", Some("2077")),
        ];
        for (name, model) in [
            ("One", "One"),
            ("one", "One"),
            ("halm two", "Two"),
            ("2077", "Two"),
            ("1000", "One"),
            ("t", "Two"),
        ] {
            let given = given_clocks(&[clock(name)], &frames).expect(name);
            assert_eq!(given[0].body.model, model, "{name}");
            assert!((given[0].ahead_seconds - 12.5).abs() < 1e-12);
        }
    }

    #[test]
    fn what_names_no_body_or_several_is_refused_with_the_bodies() {
        let frames = [
            frame("One", Some("11")),
            frame("One", Some("12")),
            frame("Two", None),
        ];
        let refused = |name: &str| {
            given_clocks(&[clock(name)], &frames)
                .expect_err(name)
                .to_string()
        };
        assert!(
            refused("Three")
                .contains("Halm One (serial number 11), Halm One (serial number 12), Halm Two")
        );
        assert!(refused("").contains("no body"));
        let twofold = [frame("Halm One", None)];
        let refusal = given_clocks(&[clock("Three")], &twofold).expect_err("no such body");
        assert!(refusal.to_string().ends_with("there is Halm One"));
        assert!(refused("One").contains("give a serial number"));
        assert!(refused("Halm").contains("several bodies"));
        let twice = given_clocks(&[clock("11"), clock("11")], &frames).expect_err("twice");
        assert!(twice.to_string().contains("set twice"));
    }
}
