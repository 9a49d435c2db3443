//! A server that takes none but encrypted connections.

use super::program::program;
use postgres::{Client, NoTls};
use std::process::{Command, Output, Stdio};

/// The database whose plain connections the server refuses (`tests/postgres/run.sh`).
const DATABASE: &str = "encrypted";

struct Made(String);

impl Made {
    fn on(server: &str) -> Self {
        let made = Self(server.to_owned());
        made.say("CREATE DATABASE");
        made
    }

    fn say(&self, order: &str) {
        let mut client = Client::connect(&self.0, NoTls).expect("a server");
        let said = client.batch_execute(&format!("{order} {DATABASE}"));
        said.expect("done");
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        self.say("DROP DATABASE");
    }
}

fn pauses(address: &str, trusting: Option<&str>) -> Output {
    let mut command: Command = program();
    // It has the queue's tables made, and writes.
    command.args(["night", "pause", "--queue", address]);
    command.stderr(Stdio::piped()).env_remove("SSL_CERT_FILE");
    if let Some(authority) = trusting {
        command.env("SSL_CERT_FILE", authority);
    }
    command.output().expect("asked")
}

#[test]
fn a_connection_is_encrypted_where_its_address_asks_for_that() {
    let (Ok(server), Ok(authority)) = (
        std::env::var("HOUSELIGHTS_POSTGRES"),
        std::env::var("HOUSELIGHTS_POSTGRES_AUTHORITY"),
    ) else {
        eprintln!("SKIPPED: HOUSELIGHTS_POSTGRES_AUTHORITY does not name a certificate");
        return;
    };
    let _made = Made::on(&server);
    let (before, _) = server.rsplit_once('/').expect("an address");
    let plain = format!("{before}/{DATABASE}");
    let encrypted = format!("{plain}?sslmode=require");
    let refused = |output: Output| {
        assert_eq!(output.status.code(), Some(3));
        String::from_utf8(output.stderr).expect("text")
    };
    assert!(refused(pauses(&plain, Some(&authority))).contains("no encryption"));
    // Nobody that this machine trusts vouches for the server.
    let words = refused(pauses(&encrypted, None));
    assert!(words.contains("certificate"), "{words}");
    let done = pauses(&encrypted, Some(&authority));
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
}
