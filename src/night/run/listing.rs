//! Frames as a person names them: files and folders on drives; in an object store an object, or everything below an address.

use super::plan::AddError;
use crate::night::depot::{Depot, Listed, is_stored, settled};
use crate::raw::is_raw_name;
use crate::show::gather::{Gathered, gather};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The frames that were named.
pub(super) struct Found {
    /// On drives.
    pub(super) gathered: Gathered,
    /// In stores.
    pub(super) stored: Vec<Listed>,
}

/// Looks for the frames that were named.
pub(super) fn found(
    depot: &mut Depot,
    named: &[PathBuf],
    output_folder: Option<&Path>,
) -> Result<Found, AddError> {
    let (stored, local): (Vec<PathBuf>, Vec<PathBuf>) =
        named.iter().cloned().partition(|path| is_stored(path));
    let stored = listed(depot, &stored)?;
    let gathered = match local.is_empty() && !stored.is_empty() {
        true => Gathered::default(),
        false => gather(&local, output_folder)?,
    };
    Ok(Found { gathered, stored })
}

/// Raw frames by their names at or below these addresses, each once. Hidden ones are passed over, as on a drive.
fn listed(depot: &mut Depot, named: &[PathBuf]) -> Result<Vec<Listed>, AddError> {
    let mut found = BTreeMap::new();
    for address in named.iter().map(|address| settled(address)) {
        if is_raw_name(&address) {
            let outline = depot.outline(&address)?;
            found.insert(address, outline);
            continue;
        }
        let mut is_any = false;
        for object in depot.list(&address)? {
            if is_raw_name(&object.address) && !is_hidden(&object.address, &address) {
                is_any = true;
                found.insert(object.address, object.outline);
            }
        }
        if !is_any {
            return Err(AddError::NoneStored(address));
        }
    }
    let listed = found.into_iter();
    Ok(listed
        .map(|(address, outline)| Listed { address, outline })
        .collect())
}

fn is_hidden(object: &Path, below: &Path) -> bool {
    let rest = object.strip_prefix(below).unwrap_or(object);
    rest.iter()
        .any(|part| part.as_encoded_bytes().starts_with(b"."))
}

#[cfg(all(test, feature = "many-machines"))]
mod tests {
    use super::*;
    use crate::night::depot::StandIn;

    #[test]
    fn what_lies_below_two_addresses_is_listed_once_and_nothing_is_told() {
        let mut depot = StandIn::new().depot().expect("a depot");
        let file = tempfile::NamedTempFile::new().expect("a file");
        let frame = PathBuf::from("s3://shows/one/1.nef");
        depot.store(file.path(), &frame).expect("stored");
        let named = ["s3://shows", "s3://shows/one"].map(PathBuf::from);
        let listed = listed(&mut depot, &named).expect("listed");
        assert!(listed.iter().map(|object| &object.address).eq([&frame]));
        let none = super::listed(&mut depot, &[PathBuf::from("s3://shows/two")]);
        assert!(matches!(none, Err(AddError::NoneStored(_))));
    }
}
