//! Errors as one line.

use std::io;

use clap::error::{ContextKind, ContextValue, ErrorKind};

/// An error and its causes as one line; a cause that its error quotes is not told twice.
pub(crate) fn one_line(error: &anyhow::Error) -> String {
    let mut told = String::new();
    for cause in error.chain() {
        let cause = in_one_line(&cause.to_string());
        if told.is_empty() {
            told = cause;
        } else if !told.ends_with(&cause) {
            told = format!("{told}: {cause}");
        }
    }
    told
}

/// What is wrong with the arguments, as one line.
pub(crate) fn of_arguments(slip: &clap::Error, program: &clap::Command, given: &str) -> String {
    let commands = program.get_subcommands().map(clap::Command::get_name);
    if let (ErrorKind::InvalidSubcommand, Some(ContextValue::String(name))) =
        (slip.kind(), slip.get(ContextKind::InvalidSubcommand))
    {
        let known = commands.collect::<Vec<_>>().join(", ");
        return format!("there is no command {name}; there are: {known}");
    }
    let command = commands.into_iter().find(|name| *name == given);
    let command = command.map(|name| format!(" {name}")).unwrap_or_default();
    format!("{}; see cupwright{command} --help", message(slip))
}

/// The parser's own message, without usage.
fn message(slip: &clap::Error) -> String {
    let text = slip.to_string();
    let lines = text.lines().map(str::trim).take_while(|line| {
        !line.starts_with("Usage:") && !line.starts_with("For more information")
    });
    let told = lines.collect::<Vec<_>>().join("\n");
    let told = told.strip_prefix("error:").unwrap_or(&told);
    let parts = told.split("\n\n").map(in_one_line);
    let parts: Vec<_> = parts.filter(|part| !part.is_empty()).collect();
    parts.join("; ")
}

/// Whether a reader of the output has gone away, which is no error.
pub(crate) fn is_broken_pipe(error: &anyhow::Error) -> bool {
    let kind = error.downcast_ref::<io::Error>().map(io::Error::kind);
    kind == Some(io::ErrorKind::BrokenPipe)
}

fn in_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use anyhow::anyhow;

    #[test]
    fn causes_are_joined_and_none_is_told_twice() {
        let error = anyhow!("no such\n  preset").context("preset: no such preset");
        assert_eq!(
            one_line(&error.context("a.ron")),
            "a.ron: preset: no such preset"
        );
    }

    #[test]
    fn only_a_reader_that_has_gone_away_is_no_error() {
        let kinds = [
            (io::ErrorKind::BrokenPipe, true),
            (io::ErrorKind::StorageFull, false),
        ];
        for (kind, expected) in kinds {
            assert_eq!(is_broken_pipe(&io::Error::from(kind).into()), expected);
        }
    }
}
