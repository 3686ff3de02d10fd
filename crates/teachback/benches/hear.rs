//! An hour of talk against a breakdown of 12 steps and 60 key points: `cargo bench -p wardwright-teachback --bench hear`.
//!
//! The breakdown is put together from the jobs of the labelled set, the talk is that of its tuning part, told again and again
//! until it fills an hour at 150 words a minute, with 10 % of its words made wrong.

#[expect(dead_code, reason = "the set is shared; each user reads a part of it")]
#[path = "../tests/labelled_set/mod.rs"]
mod labelled_set;

use breakdown::Breakdown;
use labelled_set::{JOBS, Part, cases, job};
use teachback::{Settings, SpokenLine, Transcript, hear};

const WORDS_IN_AN_HOUR: usize = 9000;

fn main() {
    divan::main();
}

#[divan::bench(sample_count = 30)]
fn an_hour_against_sixty_key_points(bencher: divan::Bencher) {
    let (job, talk) = (sixty_points(), an_hour());
    bencher.bench(|| hear(&job, &talk, &Settings::default()));
}

fn sixty_points() -> Breakdown {
    let jobs: Vec<Breakdown> = JOBS.iter().map(|code| job(code)).collect();
    let mut points = jobs.iter().flat_map(|job| &job.steps).flat_map(|step| &step.key_points).cloned();
    let names = jobs.iter().flat_map(|job| &job.steps);
    let mut steps: Vec<_> = names.take(12).cloned().collect();
    for step in &mut steps {
        step.key_points = points.by_ref().take(5).collect();
    }
    assert_eq!(steps.iter().map(|step| step.key_points.len()).sum::<usize>(), 60);
    let mut large = jobs[0].clone();
    (large.steps, large.orders) = (steps, Vec::new());
    large
}

fn an_hour() -> Transcript {
    let (mut lines, mut n_words, mut seed) = (Vec::<SpokenLine>::new(), 0, 0);
    while n_words < WORDS_IN_AN_HOUR {
        seed += 1;
        for case in cases(Part::Tuning) {
            for mut line in case.written(0.10, seed).transcript.lines {
                let start = n_words as f64 / 2.5;
                n_words += line.text.split_whitespace().count();
                (line.start_s, line.end_s) = (Some(start), Some(n_words as f64 / 2.5));
                lines.push(line);
            }
        }
    }
    Transcript { lines }
}
