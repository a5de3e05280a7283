//! Decoders that may be installed, for the tests that hold the readers against them.

use std::io::ErrorKind;
use std::process::Command;

/// What a tool prints; `None` where it is not installed. With `SLOTWRIGHT_NEEDS_TOOLS` in the environment it has to be.
pub(crate) fn tool(name: &str, arguments: &[&str]) -> Option<String> {
    // tools that read firmware are where only an administrator looks for them
    let folders = std::env::var("PATH").unwrap_or_default() + ":/usr/sbin:/sbin";
    let output = match Command::new(name).args(arguments).env("PATH", folders).env("LC_ALL", "C").output() {
        Ok(output) => output,
        Err(error) if error.kind() == ErrorKind::NotFound => {
            assert!(std::env::var_os("SLOTWRIGHT_NEEDS_TOOLS").is_none(), "{name} is not installed");
            #[allow(clippy::print_stderr)]
            {
                eprintln!("not held against {name}: it is not installed");
            }
            return None;
        }
        Err(error) => panic!("{name}: {error}"),
    };
    assert!(output.status.success(), "{name} {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    Some(String::from_utf8_lossy(&output.stdout).into_owned())
}
