//! Puts the folders of a cohort's shares together.

use std::path::{Path, PathBuf};

use thiserror::Error;

use super::manifest::{BadManifest, Manifest};
use super::parts::{self, NotWritten};
use super::run::{NotRun, begin};
use super::shard::Shard;
use super::summary::Summary;

/// Why shares cannot be put together.
#[derive(Debug, Error)]
pub enum NotJoined {
    /// No folder given.
    #[error("there is nothing to join; name the folders of all shares")]
    Nothing,
    /// A manifest that cannot be had, or of another cohort.
    #[error(transparent)]
    Manifest(#[from] BadManifest),
    /// A share is missing or there twice.
    #[error("the shares given are {found}: {problem}; each is needed once")]
    Shares {
        /// Those given.
        found: String,
        /// What is wrong.
        problem: String,
    },
    /// A share that is still at work or was interrupted.
    #[error("{}: share {shard} is not finished; run it again to its end", folder.display())]
    Unfinished {
        /// Its folder.
        folder: PathBuf,
        /// Which share.
        shard: Shard,
    },
    /// The folder to join into cannot be used.
    #[error(transparent)]
    Folder(#[from] NotRun),
    /// A table cannot be read or written.
    #[error(transparent)]
    Files(#[from] NotWritten),
}

/// Writes into `out` what a run of the whole would have written, from the folders of its shares in any
/// order.
///
/// # Errors
/// When the shares are not of one cohort, one is missing, there twice or not finished, or `out` holds
/// something else.
pub fn join(folders: &[PathBuf], out: &Path) -> Result<Summary, NotJoined> {
    let mut shares = Vec::new();
    for folder in folders {
        let missing = || BadManifest::Missing(folder.clone());
        let manifest = Manifest::read(folder)?.ok_or_else(missing)?;
        let shard = manifest.shard().unwrap_or(Shard::WHOLE);
        shares.push((shard.number(), shard, folder, manifest));
    }
    shares.sort_by_key(|(number, ..)| *number);
    let Some((_, first, _, manifest)) = shares.first() else {
        return Err(NotJoined::Nothing);
    };
    let mut whole = manifest.with_shard(Shard::WHOLE);
    for (_, _, _, other) in &shares {
        whole.learn(other);
    }
    for (_, _, folder, manifest) in &shares {
        let mut informed = manifest.with_shard(Shard::WHOLE);
        informed.learn(&whole);
        informed.agrees(&whole, folder)?;
    }
    complete(
        *first,
        &shares
            .iter()
            .map(|(_, shard, ..)| *shard)
            .collect::<Vec<_>>(),
    )?;
    let members = whole.members().unwrap_or_default();
    let mut tables = Vec::new();
    for (_, shard, folder, _) in &shares {
        let table = folder.join(parts::CSV);
        if !table.is_file() {
            let (folder, shard) = (folder.to_path_buf(), *shard);
            return Err(NotJoined::Unfinished { folder, shard });
        }
        tables.push((table, shard.members(members)));
    }
    let columns = whole.columns();
    let _alone = begin(&whole, out)?;
    Ok(parts::assemble(out, &columns, tables.into_iter())?)
}

/// Holds if these are all shares, each once; they are in order.
fn complete(first: Shard, shards: &[Shard]) -> Result<(), NotJoined> {
    let of = first.of();
    let refused = |problem: String| {
        let found: Vec<_> = shards.iter().map(Shard::to_string).collect();
        let found = found.join(", ");
        NotJoined::Shares { found, problem }
    };
    if let Some(stray) = shards.iter().find(|shard| shard.of() != of) {
        return Err(refused(format!("{stray} is of another division")));
    }
    if let Some(twice) = shards.windows(2).find(|pair| pair[0] == pair[1]) {
        return Err(refused(format!("{} is there twice", twice[0])));
    }
    let missing = (1..=of).find(|number| shards.iter().all(|shard| shard.number() != *number));
    missing.map_or(Ok(()), |number| {
        Err(refused(format!("{number}/{of} is missing")))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn refused(shards: &[&str], told: &str) {
        let shards: Vec<Shard> = shards.iter().map(|text| text.parse().unwrap()).collect();
        let message = complete(shards[0], &shards).unwrap_err().to_string();
        assert!(message.contains(told), "{message}");
    }

    #[test]
    fn every_share_is_needed_once() {
        let shard = |text: &str| text.parse::<Shard>().unwrap();
        assert!(complete(shard("1/2"), &[shard("1/2"), shard("2/2")]).is_ok());
        refused(&["1/3", "3/3"], "2/3 is missing");
        refused(&["1/2", "1/2", "2/2"], "1/2 is there twice");
        refused(&["1/2", "2/3"], "2/3 is of another division");
    }
}
