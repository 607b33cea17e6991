//! Counts what passed and what failed, a stage at a time. A stage that checked nothing has failed.

use std::process::ExitCode;
use std::time::Instant;

/// The running count.
#[derive(Default)]
pub struct Report {
    stage: Option<(String, Instant, usize)>,
    passed: usize,
    failures: Vec<String>,
}

impl Report {
    /// Ends the stage before and begins another.
    pub fn stage(&mut self, name: &str) {
        self.end_stage();
        println!("\n== {name}");
        self.stage = Some((
            name.to_owned(),
            Instant::now(),
            self.passed + self.failures.len(),
        ));
    }

    fn end_stage(&mut self) {
        if let Some((name, start, before)) = self.stage.take() {
            if self.passed + self.failures.len() == before {
                self.fail(&format!("stage \"{name}\" checked nothing"));
            }
            println!("   ({:.1} s)", start.elapsed().as_secs_f64());
        }
    }

    /// One check that passed.
    pub fn pass(&mut self, what: &str) {
        self.passed += 1;
        println!("ok   {what}");
    }

    /// One check that failed.
    pub fn fail(&mut self, what: &str) {
        println!("FAIL {what}");
        self.failures.push(what.to_owned());
    }

    /// One check by its result.
    pub fn check(&mut self, what: &str, result: Result<String, String>) {
        match result {
            Ok(detail) if detail.is_empty() => self.pass(what),
            Ok(detail) => self.pass(&format!("{what}: {detail}")),
            Err(reason) => self.fail(&format!("{what}: {reason}")),
        }
    }

    /// The closing line and the exit status.
    pub fn close(mut self) -> ExitCode {
        self.end_stage();
        if !self.failures.is_empty() {
            println!("\nfailed:");
            for failure in &self.failures {
                println!("  {failure}");
            }
        }
        println!("\n{} passed, {} failed", self.passed, self.failures.len());
        if self.failures.is_empty() && self.passed > 0 {
            ExitCode::SUCCESS
        } else {
            ExitCode::FAILURE
        }
    }
}
