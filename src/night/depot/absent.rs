//! The depot of a program that was built without what reaches object stores: it refuses.

use super::{DepotError, Listed};
use crate::crew::stamp::Outline;
use crate::crew::task::Stamp;
use std::path::Path;

/// Reaches nothing.
#[derive(Debug)]
pub struct Depot;

fn refused<T>(address: &Path) -> Result<T, DepotError> {
    Err(DepotError::NotInThisBuild {
        address: address.display().to_string(),
    })
}

impl Depot {
    /// A depot that reaches nothing.
    ///
    /// # Errors
    /// None: it refuses when it is asked.
    pub fn new() -> Result<Self, DepotError> {
        Ok(Self)
    }

    /// Refuses.
    ///
    /// # Errors
    /// Always.
    pub fn outline(&mut self, address: &Path) -> Result<Outline, DepotError> {
        refused(address)
    }

    /// Refuses.
    ///
    /// # Errors
    /// Always.
    pub fn lets_in(&mut self, below: &Path) -> Result<(), DepotError> {
        refused(below)
    }

    /// Refuses.
    ///
    /// # Errors
    /// Always.
    pub fn list(&mut self, below: &Path) -> Result<Vec<Listed>, DepotError> {
        refused(below)
    }

    /// Refuses.
    ///
    /// # Errors
    /// Always.
    pub fn fetch(&mut self, address: &Path, _to: &Path) -> Result<Outline, DepotError> {
        refused(address)
    }

    /// Refuses.
    ///
    /// # Errors
    /// Always.
    pub fn store(&mut self, _file: &Path, address: &Path) -> Result<Stamp, DepotError> {
        refused(address)
    }
}
