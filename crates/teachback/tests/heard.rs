//! Worked teach-back cases of the trade (clean, dry, fill; binding: clean before dry before puncture), written before
//! the program heard them. Each row is what a learner says and what a trainer would mark.

use std::sync::LazyLock;

use breakdown::{Breakdown, ItemId, parse};
use quantity::Agreement;
use teachback::{HeardAs, Hearing, Mark, Proposal, Settings, SpokenLine, Transcript, hear};

fn vein() -> &'static Breakdown {
    static VEIN: LazyLock<Breakdown> =
        LazyLock::new(|| parse(include_str!("../../../breakdowns/vein.txt")).breakdown.expect("a breakdown"));
    &VEIN
}

/// Lines "T: " are the trainer's, the others the learner's.
fn listen(lines: &[&str]) -> Hearing {
    let spoken = lines.iter().zip(0u16..).map(|(line, number)| {
        let (speaker, text) = match line.strip_prefix("T: ") {
            Some(text) => ("trainer", text),
            None => ("learner", *line),
        };
        let start_s = Some(f64::from(number) * 10.0);
        SpokenLine { start_s, end_s: None, speaker: Some(speaker.to_owned()), text: text.to_owned() }
    });
    hear(vein(), &Transcript { lines: spoken.collect() }, &Settings::default())
}

/// The proposal for the key point with this label; "r" in front of it for its reason.
fn of<'a>(hearing: &'a Hearing, label: &str) -> &'a Proposal {
    let breakdown = vein();
    let (label, reason) = match label.strip_prefix("r ") {
        Some(label) => (label, true),
        None => (label, false),
    };
    let items = breakdown.items();
    let item =
        items.iter().find(|item| item.key_point.is_some_and(|point| point.label.as_deref() == Some(label)));
    let id = ItemId { reason, ..item.expect("a labelled key point").id };
    hearing.proposals.iter().find(|proposal| proposal.item == id).expect("a proposal for every item")
}

#[test]
fn said_in_the_learners_own_words_with_the_numbers() {
    let hearing = listen(&[
        "scrub thirty seconds with chlorhexidine in alcohol",
        "let it dry at least thirty",
        "then no touching it again",
    ]);
    assert_eq!(of(&hearing, "clean").mark, Mark::Unprompted, "{:#?}", of(&hearing, "clean"));
    assert_eq!(of(&hearing, "clean").heard_quantity.as_deref(), Some("30 s"));
    assert_eq!(of(&hearing, "dry").mark, Mark::Unprompted, "{:#?}", of(&hearing, "dry"));
    assert_eq!(of(&hearing, "dry").agreement, Some(Agreement::Agrees));
    assert_eq!(of(&hearing, "dry").at_s, Some(10.0));
    assert_eq!(hearing.order_errors, []);
}

#[test]
fn dry_after_a_neutral_question_and_without_its_time() {
    let hearing = listen(&[
        "clean the skin with chlorhexidine and go in",
        "T: anything between?",
        "oh let the skin dry by itself",
    ]);
    // Prompted, and the time is missing: partial.
    assert_eq!(of(&hearing, "dry").mark, Mark::Partial, "{:#?}", of(&hearing, "dry"));
    let timed = listen(&[
        "clean the skin with chlorhexidine",
        "T: anything between?",
        "oh let the skin dry by itself thirty seconds",
    ]);
    assert_eq!(of(&timed, "dry").mark, Mark::Prompted, "{:#?}", of(&timed, "dry"));
}

#[test]
fn yes_to_a_leading_question_is_not_known() {
    let hearing =
        listen(&["clean the skin with chlorhexidine", "T: you let the skin dry by itself, right?", "yes"]);
    assert_eq!(of(&hearing, "dry").mark, Mark::Led, "{:#?}", of(&hearing, "dry"));
}

#[test]
fn without_names_a_short_question_is_the_trainers() {
    let lines =
        ["clean the skin with chlorhexidine", "what next", "let the skin dry by itself thirty seconds"];
    let spoken = lines.iter().map(|text| SpokenLine {
        start_s: None,
        end_s: None,
        speaker: None,
        text: (*text).to_owned(),
    });
    let hearing = hear(vein(), &Transcript { lines: spoken.collect() }, &Settings::default());
    assert_eq!(of(&hearing, "dry").mark, Mark::Prompted, "{:#?}", of(&hearing, "dry"));
}

#[test]
fn the_right_number_per_the_wrong_thing() {
    let hearing = listen(&["fill the bottles with ten mil in the set"]);
    let fill = of(&hearing, "fill");
    assert_eq!(fill.mark, Mark::Wrong, "{fill:#?}");
    assert_eq!(fill.agreement, Some(Agreement::OtherPer));
    assert_eq!(fill.expected_quantity.as_deref(), Some("fill 8 to 10 mL per bottle"));
    assert_eq!(fill.heard_quantity.as_deref(), Some("10 mL per set"));
    let right = listen(&[
        "fill each bottle up to the mark with eight to ten mils two bottles per set twenty mils per set",
    ]);
    assert_eq!(of(&right, "fill").mark, Mark::Unprompted, "{:#?}", of(&right, "fill"));
}

#[test]
fn another_number_is_wrong() {
    let hearing = listen(&["rub chlorhexidine back and forth over the site for ten seconds"]);
    let clean = of(&hearing, "clean");
    assert_eq!((clean.mark, clean.agreement), (Mark::Wrong, Some(Agreement::OtherNumber)), "{clean:#?}");
    let half = listen(&["rub chlorhexidine back and forth over the site for half a minute"]);
    assert_eq!(of(&half, "clean").mark, Mark::Unprompted);
}

#[test]
fn the_opposite_of_no_touch_is_wrong_and_asks_to_listen() {
    let hearing = listen(&["with the gloves on touch the clean spot again to be sure"]);
    let no_touch = of(&hearing, "no-touch");
    assert_eq!(no_touch.mark, Mark::Wrong, "{no_touch:#?}");
    assert!(no_touch.listen);
    let right = listen(&["sterile gloves on and don't touch the clean spot again"]);
    assert_eq!(of(&right, "no-touch").mark, Mark::Unprompted, "{:#?}", of(&right, "no-touch"));
}

#[test]
fn puncture_before_drying_is_an_order_error() {
    let lines = [
        "rub chlorhexidine back and forth over the site for thirty seconds",
        "hold the skin tight and go in with one smooth movement below the vein",
        "and the skin has to dry by itself at least thirty seconds no fanning",
    ];
    let hearing = listen(&lines);
    let (dry, puncture) = (of(&hearing, "dry").item, of(&hearing, "puncture").item);
    assert!(
        hearing.order_errors.iter().any(|error| (error.first, error.then) == (dry, puncture)),
        "{hearing:#?}"
    );
    let in_order = listen(&[lines[0], lines[2], lines[1]]);
    assert_eq!(in_order.order_errors, []);
}

#[test]
fn bottle_tops_and_skin_come_in_any_order() {
    let tops = "flip the caps off and rub each top with alcohol fifteen seconds and let it dry thirty seconds no iodine";
    let skin = "rub chlorhexidine back and forth over the site thirty seconds";
    for lines in [[tops, skin], [skin, tops]] {
        let hearing = listen(&lines);
        assert_eq!(hearing.order_errors, []);
        assert_eq!(of(&hearing, "tops").mark, Mark::Unprompted, "{:#?}", of(&hearing, "tops"));
        assert_eq!(of(&hearing, "clean").mark, Mark::Unprompted, "{:#?}", of(&hearing, "clean"));
    }
}

#[test]
fn a_vague_reason_is_partial() {
    let hearing = listen(&["let the skin dry by itself thirty seconds because of germs"]);
    let reason = of(&hearing, "r dry");
    assert_eq!(reason.mark, Mark::Partial, "{reason:#?}");
    let whole = listen(&[
        "let the skin dry by itself thirty seconds because wet alcohol stings and the germs go on dying while it dries",
    ]);
    assert_eq!(of(&whole, "r dry").mark, Mark::Unprompted, "{:#?}", of(&whole, "r dry"));
}

#[test]
fn the_number_of_steps_is_heard() {
    assert_eq!(listen(&["there are seven important steps"]).steps_named, Some(7));
    assert_eq!(listen(&["so step two is the bottles"]).steps_named, None);
}

#[test]
fn talk_of_something_else_is_not_this_job() {
    let hearing = listen(&[
        "good morning everyone",
        "the weather will stay dry until the weekend",
        "bring an umbrella on monday",
    ]);
    assert!(!hearing.same_job, "{}", hearing.same_job_because);
    assert!(hearing.unmatched.len() >= 2, "{:?}", hearing.unmatched);
    let silence = hear(vein(), &Transcript::default(), &Settings::default());
    assert!(!silence.same_job);
    assert!(silence.proposals.iter().all(|proposal| proposal.mark == Mark::Missed));
}

#[test]
fn misheard_words_are_still_heard() {
    let hearing = listen(&["rub clorhexidine back and fourth over the site for thirty seconds"]);
    assert_eq!(of(&hearing, "clean").mark, Mark::Unprompted, "{:#?}", of(&hearing, "clean"));
}

#[test]
fn labelling_at_the_desk_is_unsafe() {
    let hearing = listen(&["label them at the desk afterwards"]);
    let label = of(&hearing, "label");
    assert_eq!((label.mark, label.heard_as), (Mark::Unsafe, HeardAs::Opposite), "{label:#?}");
    assert!(label.listen);
}

#[test]
fn feeling_for_the_vein_again_after_cleaning_is_wrong() {
    let hearing = listen(&[
        "rub chlorhexidine back and forth over the site for thirty seconds",
        "sterile gloves on and feel the clean spot again to be sure",
    ]);
    let no_touch = of(&hearing, "no-touch");
    assert_eq!((no_touch.mark, no_touch.heard_as), (Mark::Wrong, HeardAs::Opposite), "{no_touch:#?}");
}

/// A whole teach-back with four planted slips, written for the example file. The program was adjusted on it, so it
/// shows that the parts work together; it measures nothing.
#[test]
fn a_whole_teach_back() {
    let file = include_str!("../../../breakdowns/examples/teach-back-vein.vtt");
    let lines: Vec<String> = file
        .lines()
        .filter_map(|line| {
            let (speaker, text) = line.strip_prefix("<v ")?.split_once('>')?;
            Some(if speaker == "Trainer" { format!("T: {text}") } else { text.to_owned() })
        })
        .collect();
    let hearing = listen(&lines.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(hearing.same_job);
    assert_eq!(hearing.steps_named, Some(7));
    assert_eq!(hearing.order_errors, []);
    for (label, mark) in [
        ("identify", Mark::Unprompted),
        ("r identify", Mark::Unprompted),
        ("before-antibiotics", Mark::Unprompted),
        ("palpate", Mark::Unprompted),
        ("tops", Mark::Unprompted),
        ("clean", Mark::Wrong),
        ("dry", Mark::Prompted),
        ("no-touch", Mark::Unprompted),
        ("tourniquet", Mark::Unprompted),
        ("stop", Mark::Unprompted),
        ("attempts", Mark::Missed),
        ("fill", Mark::Wrong),
        ("cultures-first", Mark::Unprompted),
        ("r cultures-first", Mark::Unprompted),
        ("mix", Mark::Missed),
        ("send", Mark::Unprompted),
    ] {
        assert_eq!(of(&hearing, label).mark, mark, "{label}: {:#?}", of(&hearing, label));
    }
    assert!(of(&hearing, "label").listen, "the desk is left to the trainer's ear");
    assert!(hearing.unmatched.iter().any(|line| line.text.contains("match last night")));
}

/// Both examples against both jobs: each is taken for its own job and not for the other, though the two share steps.
#[test]
fn each_example_is_of_its_own_job() {
    let line = parse(include_str!("../../../breakdowns/central-line.txt")).breakdown.expect("a breakdown");
    let said = |file: &str, times: usize| {
        let texts = file.lines().filter_map(|line| {
            let text = line
                .strip_prefix("<v Learner>")
                .or_else(|| line.split_once("] Learner: ").map(|(_, text)| text))?;
            Some(SpokenLine { start_s: None, end_s: None, speaker: None, text: text.to_owned() })
        });
        let once: Vec<SpokenLine> = texts.collect();
        assert!(once.len() > 10);
        Transcript { lines: std::iter::repeat_n(once, times).flatten().collect() }
    };
    let of_vein = include_str!("../../../breakdowns/examples/teach-back-vein.vtt");
    let of_line = include_str!("../../../breakdowns/examples/teach-back-line.txt");
    let same = |job: &Breakdown, said: Transcript| hear(job, &said, &Settings::default()).same_job;
    assert!(same(vein(), said(of_vein, 1)) && same(&line, said(of_line, 1)));
    assert!(!same(vein(), said(of_line, 1)) && !same(&line, said(of_vein, 1)));
    assert!(same(vein(), said(of_vein, 3)), "told three times it is still this job");
}

mod never_panics {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn on_any_lines(
            lines in prop::collection::vec((prop::option::of(0.0..1e5f64), prop::option::of("[ab]"), "\\PC{0,40}"), 0..8)
        ) {
            let lines = lines.into_iter().map(|(start_s, speaker, text)| {
                SpokenLine { start_s, end_s: start_s.map(|start| start - 1.0), speaker, text }
            });
            let hearing = hear(vein(), &Transcript { lines: lines.collect() }, &Settings::default());
            prop_assert_eq!(hearing.proposals.len(), vein().items().len());
        }

        #[test]
        fn on_words_of_the_job(
            words in prop::collection::vec(
                prop::sample::select(vec![
                    "clean", "dry", "not", "because", "thirty", "seconds", "8", "mL", "in", "each", "bottle", "label", "yes", "why?",
                    "half", "a", "minute", "steps", "seven",
                ]),
                0..30,
            ),
            cut in 1usize..6,
        ) {
            let lines = words.chunks(cut).map(|words| SpokenLine {
                start_s: None, end_s: None, speaker: None, text: words.join(" "),
            });
            for proposal in hear(vein(), &Transcript { lines: lines.collect() }, &Settings::default()).proposals {
                prop_assert!((0.0..=1.0).contains(&proposal.confidence), "{:?}", proposal);
            }
        }
    }
}

#[test]
fn what_sounds_turned_round_and_is_not() {
    // A line each, with the label it tells; none says the opposite of anything.
    let rows = [
        ("let it dry on its own thirty seconds don't wave at it or dab it", "dry"),
        ("sterile gloves and don't go back and touch it", "no-touch"),
        ("sterile gloves and from there i keep my fingers off the clean spot", "no-touch"),
        ("ah no i have to rub the tops with alcohol fifteen seconds and thirty to dry", "tops"),
        ("let the skin dry thirty seconds by itself if i blotted it the germs wouldn't die", "dry"),
        ("tourniquet not more than one minute", "tourniquet"),
    ];
    for (line, label) in rows {
        let hearing = listen(&[line]);
        let heard_as = of(&hearing, label).heard_as;
        assert_eq!(heard_as, HeardAs::Said, "{line}: {:#?}", of(&hearing, label));
    }
}

#[test]
fn the_opposite_in_order_and_need() {
    let rows = [
        ("with the winged set the anaerobic before the aerobic bottle", "aerobic-first"),
        ("first the antibiotic, the antibiotic first and then i draw", "before-antibiotics"),
        ("the bottle tops need no alcohol", "tops"),
        ("push the plunger a bit if the vacuum is slow", "no-force"),
    ];
    for (line, label) in rows {
        let hearing = listen(&[line]);
        let proposal = of(&hearing, label);
        assert_eq!((proposal.heard_as, proposal.listen), (HeardAs::Opposite, true), "{line}: {proposal:#?}");
    }
}

#[test]
fn a_sentence_cut_across_cues_keeps_its_number() {
    let hearing = listen(&[
        "draw it before the antibiotic but don't keep the",
        "antibiotic back for more than forty five minutes and",
        "the tourniquet is on for at",
        "least two minutes then i",
    ]);
    assert_eq!(of(&hearing, "before-antibiotics").heard_as, HeardAs::Said);
    let tourniquet = of(&hearing, "tourniquet");
    assert_eq!(tourniquet.heard_quantity.as_deref(), Some("at least 2 min"), "{tourniquet:#?}");
    assert_eq!(tourniquet.heard_as, HeardAs::OtherQuantity);
}
