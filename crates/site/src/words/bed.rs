//! Words of the pages at the bed, in the order in which the pages say them. What a page puts between two texts is a name, a
//! number or a time; the spaces beside it stand in the texts.

// bedside
pub(crate) const AT_THE_BEDSIDE: &str = "At the bedside";
pub(crate) const THE_ONE_WHO_WATCHES_MARKS: &str =
    "The one who watches marks; the one who draws touches nothing after the skin is cleaned.";
pub(crate) const PLAN_ONE_COLLECTION: &str = "Plan one collection";
pub(crate) const FIRST_SETS_BOTTLES_BLOOD_TIMES: &str =
    " first: sets, bottles, blood, times. It needs the network.";
pub(crate) const WHICH_DRAW: &str = "Which draw";
pub(crate) const WHOSE_HANDS_DRAW_IS_CHOSEN: &str = "Whose hands draw is chosen on the form.";
pub(crate) const NO_BREAKDOWN_IS_IN_FORCE: &str = "No breakdown is in force yet. ";
pub(crate) const PUBLISH_THE_FIRST_ONE: &str = "Publish the first one";
pub(crate) const MARK_AN_OBSERVED_DRAW: &str = "Mark an observed draw";
pub(crate) const CARRY_OUT_STEP_BY_STEP: &str = "Carry out, step by step";
pub(crate) const ON_THIS_DEVICE: &str = "On this device";
pub(crate) const WRITTEN_HERE_AND_NOT_IN: &str = "Written here, and not in the record book yet.";
pub(crate) const WITHOUT_SCRIPTS_THIS_BROWSER_KEEPS: &str =
    "Without scripts this browser keeps nothing: a form is saved when it is sent.";
pub(crate) const SEND_NOW: &str = "Send now";
pub(crate) const THIS_DEVICE: &str = "This device";
pub(crate) const WITH_SCRIPTS_THIS_DEVICE_CAN: &str =
    "With scripts, this device can be used without network, and signed out so that no names stay on it.";
pub(crate) const TO_INSTALL_THE_BROWSERS_MENU: &str = "To install: the browser’s menu, “Add to home screen” or “Install”. Without accounts the pages answer on this machine only.";

// observe/form
pub(crate) const CARRY_OUT_A_DRAW: &str = "Carry out a draw";
pub(crate) const VERSION: &str = ", version ";
pub(crate) const ANOTHER_VERSION_IS_IN_FORCE: &str =
    "Another version is in force now; this draw stays with version ";
pub(crate) const THE_ONE_WHO_WATCHES_MARKS_2: &str =
    "The one who watches marks; the one who draws touches nothing.";
pub(crate) const ONE_STEP_AT_A_TIME: &str =
    "One step at a time, with its times. What was done becomes the observed draw.";
pub(crate) const BEFORE_YOU_BEGIN: &str = "Before you begin";
pub(crate) const THE_DRAW: &str = "The draw";
pub(crate) const NOTHING_ABOUT_THE_PATIENT_BUT: &str =
    "Nothing about the patient but what made the draw difficult.";
pub(crate) const THE_REST: &str = "The rest";
pub(crate) const DRAWN_BY: &str = "Drawn by";
pub(crate) const CHOOSE_WHOSE_HANDS_DRAW: &str = "choose whose hands draw";
pub(crate) const WATCHED_BY: &str = "Watched by";
pub(crate) const CHOOSE_WHO_WATCHES: &str = "choose who watches";
pub(crate) const DOES_NOT_COUNT: &str = " (does not count)";
pub(crate) const LOGGED_BY: &str = "Logged by";
pub(crate) const THE_ONE_WHO_WATCHES: &str = "the one who watches";
pub(crate) const BEGAN_AT_AS_YEAR_MONTH: &str = "Began at, as year-month-day hour:minute";
pub(crate) const SUCH_AS_2026_03_03: &str = "such as 2026-03-03 14:05";
pub(crate) const WHAT_SOMEBODY_WATCHES_WHO_MAY: &str =
    "What somebody watches who may not precept on this job is saved, and does not count towards release.";
pub(crate) const WHAT_THE_MARKS_MEAN_AND: &str = "What the marks mean, and the keys";
pub(crate) const OR: &str = " or ";
pub(crate) const ENTER: &str = "Enter";
pub(crate) const DONE: &str = " done";
pub(crate) const WITHOUT_HELP: &str = "without help";
pub(crate) const AFTER_A_PROMPT: &str = " after a prompt";
pub(crate) const DONE_ONCE_SOMEBODY_SAID_SOMETHING: &str = "done once somebody said something";
pub(crate) const WRONG: &str = " wrong";
pub(crate) const DONE_BUT_NOT_AS_THE: &str = "done, but not as the key point says";
pub(crate) const MISSED: &str = " missed";
pub(crate) const LEFT_OUT: &str = "left out";
pub(crate) const DOES_NOT_APPLY: &str = " does not apply";
pub(crate) const TO_THIS_DRAW: &str = "to this draw";
pub(crate) const BACKSPACE: &str = "Backspace";
pub(crate) const NOT_SEEN_A_SECOND_TAP: &str =
    "not seen; a second tap on a mark does the same. Not seen is not done";
pub(crate) const NEXT_AND_PREVIOUS_KEY_POINT: &str = "next and previous key point";
pub(crate) const WHO_HOLDS_THIS_SCREEN: &str = "Who holds this screen";
pub(crate) const AN_OBSERVER_A_TAP_OR: &str = "An observer: a tap or a key goes on";
pub(crate) const NOBODY_IT_GOES_ON_BY: &str =
    "Nobody: it goes on by itself until the label, nothing is touched after the skin is cleaned";
pub(crate) const SECONDS_FOR_A_STEP_WITHOUT: &str =
    "Seconds for a step without times, when it goes on by itself";
pub(crate) const S_FOR_A_STEP_WITHOUT: &str = " s for a step without times";
pub(crate) const START_WITH_STEP_1: &str = "Start with step 1";
pub(crate) const KEYS_SPACE_PAGE_DOWN_OR: &str = "Keys: space, Page Down or → go on, ← goes back, T starts the time, S leads to when to stop. A foot switch that types one of them will do.";
pub(crate) const NOT_SEEN: &str = "not seen";
pub(crate) const AT_LEAST: &str = ": at least ";
pub(crate) const BLOOD_IN_EACH_BOTTLE_ML: &str = "Blood in each bottle, mL";
pub(crate) const SPECIMEN_NUMBER_TYPED_OR_SCANNED: &str = "Specimen number, typed or scanned";
pub(crate) const ATTEMPTS_OF_THIS_COLLECTOR_THE: &str = "Attempts of this collector; the limit is ";
pub(crate) const WHAT_MADE_IT_DIFFICULT: &str = "What made it difficult";
pub(crate) const DRAWN_FROM: &str = "Drawn from";
pub(crate) const NOT_SAID: &str = "not said";
pub(crate) const WHY_FROM_A_LINE_OR: &str = "Why from a line or a new cannula";
pub(crate) const STOPPED_BEFORE_IT_WAS_WHOLE: &str = "Stopped before it was whole";
pub(crate) const WHERE: &str = "Where";
pub(crate) const ON_A_REAL_PATIENT: &str = "on a real patient";
pub(crate) const ON_A_TRAINING_ARM: &str = "on a training arm";
pub(crate) const WHO_DID_IT: &str = "Who did it";
pub(crate) const THE_WATCHER_TOOK_OVER: &str = "The watcher took over";
pub(crate) const THIS_IS_THE_TRAINERS_OWN: &str = "This is the trainer’s own spot check";
pub(crate) const NOTE_ABOUT_THE_DRAW_NEVER: &str = "Note about the draw, never about a patient";
pub(crate) const I_LOOKED_AT_EACH_EVERY: &str =
    "I looked at each: every key point not marked above was seen and done.";
pub(crate) const ARE_NOT_MARKED_LEAVE_THIS: &str =
    " are not marked. Leave this empty where anything was not seen: not seen is not done.";
pub(crate) const KEY_POINTS_MARKED: &str = " key points marked";
pub(crate) const STEPS: &str = "Steps";
pub(crate) const FINISH: &str = "Finish";

// observe/stops
pub(crate) const NERVE_PAIN: &str = "Nerve pain";
pub(crate) const SHOOTING_PAIN_TINGLING_OR_TREMOR: &str = "Shooting pain, tingling or tremor";
pub(crate) const TOURNIQUET_OFF_NEEDLE_OUT_AT: &str = "Tourniquet off, needle out at once.";
pub(crate) const PRESS_AND_ASK_WHAT_IS: &str = "Press, and ask what is felt now.";
pub(crate) const NOT_AGAIN_AT_THIS_PLACE: &str =
    "Not again at this place. Tell the nurse in charge, and write it down.";
pub(crate) const ARTERY: &str = "Artery";
pub(crate) const BRIGHT_BLOOD_THAT_PULSES: &str = "Bright blood that pulses";
pub(crate) const PRESS_FOR_5_MINUTES_OR: &str = "Press for 5 minutes or longer, without looking in between.";
pub(crate) const CALL_WATCH_HAND_AND_FINGERS: &str = "Call. Watch hand and fingers: colour, warmth, feeling.";
pub(crate) const ATTEMPTS: &str = "Attempts";
pub(crate) const THE_LIMIT_OF_ATTEMPTS_IS: &str = "The limit of attempts is reached";
pub(crate) const STOP_HAND_OVER_TO_A: &str = "Stop. Hand over to a colleague.";
pub(crate) const NO_FURTHER_SET_TO_MAKE: &str =
    "No further set to make up for it: blood drawn is blood lost.";
pub(crate) const BREATHLESS: &str = "Breathless";
pub(crate) const BREATHLESS_CHEST_PAIN_OR_CONFUSED: &str =
    "Breathless, chest pain or confused after a line was opened";
pub(crate) const CLAMP_THE_LINE_NOW: &str = "Clamp the line now.";
pub(crate) const ON_THE_LEFT_SIDE_HEAD: &str = "On the left side, head down.";
pub(crate) const OXYGEN_CALL_FOR_HELP_AIR: &str = "Oxygen. Call for help: air may be in the heart.";
pub(crate) const WHEN_TO_STOP: &str = "When to stop";
pub(crate) const LOCAL_POLICY_COMES_FIRST_WHOEVER: &str =
    "Local policy comes first; whoever is licensed to decide decides.";
pub(crate) const THE_LIMIT_HERE_IS: &str = "The limit here is ";
pub(crate) const FOR_EACH_COLLECTOR: &str = " for each collector.";

// observe/result
pub(crate) const LOOK_OVER_THEN_SAVE: &str = "Look over, then save";
pub(crate) const NOTHING_IS_IN_THE_BOOK: &str = " Nothing is in the book yet.";
pub(crate) const FOR_THIS_PERSON_AND_THEIR: &str = "For this person and their trainer only.";
pub(crate) const YOUR_DECISION: &str = "Your decision";
pub(crate) const SAVE_TO_THE_RECORD_BOOK: &str = "Save to the record book";
pub(crate) const CHANGE_SOMETHING: &str = "Change something";
pub(crate) const SENT_TWICE_IT_IS_ONE: &str =
    "Sent twice it is one entry. What is saved is never changed; a mistake is mended by a correction.";
pub(crate) const DRAW_BY: &str = "Draw by ";
pub(crate) const IN_THE_RECORD_BOOK: &str = " In the record book.";
pub(crate) const CORRECTED: &str = "Corrected";
pub(crate) const THE_RECORD_SHOWS_WHAT_STANDS: &str = ". The record shows what stands in its place.";
pub(crate) const RECORD_OF: &str = "Record of ";
pub(crate) const MARK_THE_NEXT_DRAW: &str = "Mark the next draw";
pub(crate) const CORRECT_THIS_ENTRY: &str = "Correct this entry";
pub(crate) const DRAWN_BY_2: &str = "Drawn by ";
pub(crate) const ON: &str = " on ";
pub(crate) const WATCHED_BY_2: &str = ", watched by ";
pub(crate) const LOGGED_BY_2: &str = ", logged by ";
pub(crate) const THIS_DRAW: &str = "This draw";
pub(crate) const WHAT_WAS_DONE_IT_IS: &str = "What was done. It is no teach-back and no result.";
pub(crate) const NOT_DONE_WITHOUT_HELP: &str = "Not done without help";
pub(crate) const SAFETY_POINTS_FIRST: &str = "Safety points first.";
pub(crate) const EVERYTHING_THAT_WAS_SEEN_WAS: &str = "Everything that was seen was done without help.";
pub(crate) const WHAT_COMES_NEXT: &str = "What comes next";
pub(crate) const WITH_THIS_DRAW_THE_RELEASE: &str =
    " With this draw the release rule is met: a decision is due.";
pub(crate) const THE_RELEASE_RULE_ASKS_FOR: &str =
    "The release rule asks for nothing further, or the job is not on this person’s timetable.";
pub(crate) const WITH_THIS_DRAW_COUNTED_THE: &str =
    "With this draw counted, the release rule still asks for:";
pub(crate) const THE_PROGRAM_COUNTS_THE_TRAINER: &str = "The program counts; the trainer decides.";
pub(crate) const CIRCUMSTANCES: &str = "Circumstances";
pub(crate) const RESULT_OF_THE_SET: &str = "Result of the set";
pub(crate) const FOR_THE_COLLECTOR_AND_THE: &str = "For the collector and the trainer.";
pub(crate) const ONE_SET_SAYS_LITTLE_ABOUT: &str = ". One set says little about a person.";
pub(crate) const THE_LABORATORY_HAS_NOT_TOLD: &str = "The laboratory has not told yet.";
pub(crate) const WITHOUT_A_SPECIMEN_NUMBER_NO: &str = "Without a specimen number no result can be found.";
pub(crate) const COUNTS_TOWARDS_RELEASE: &str = " Counts towards release.";
pub(crate) const SAVED_AND_DOES_NOT_COUNT: &str = " Saved, and does not count towards release: ";
pub(crate) const DONE_WITHOUT_HELP: &str = "Done without help";
pub(crate) const KEY_POINTS_THAT_WERE_SEEN: &str = " key points that were seen";
pub(crate) const NOT_SEEN_OR_NOT_MARKED: &str = "Not seen or not marked";
pub(crate) const NOT_SEEN_IS_NOT_DONE: &str = ". Not seen is not done";
pub(crate) const MARKED_TOGETHER: &str = "Marked together";
pub(crate) const AS_DONE_IN_ONE_ACTION: &str = " as done, in one action after a look at the list";
pub(crate) const COUNTS_ARE_OF_ALL_KEY: &str =
    "Counts are of all key points of one draw, not of a sample, so they carry no interval.";
pub(crate) const BLOOD_IN_EACH_BOTTLE: &str = "Blood in each bottle";
pub(crate) const NOT_WRITTEN_DOWN: &str = "not written down";
pub(crate) const SPECIMEN_NUMBER: &str = "Specimen number";
pub(crate) const TAKEN_OVER: &str = "Taken over";
pub(crate) const BY_THE_WATCHER: &str = "by the watcher";
pub(crate) const DIFFICULT_FOR: &str = "Difficult for";
pub(crate) const STOPPED: &str = "Stopped";
pub(crate) const LASTED: &str = "Lasted";
pub(crate) const STEPS_BEGAN: &str = "Steps began";
pub(crate) const CLOCK_OF_THE_DEVICE: &str = "Clock of the device";
pub(crate) const WAS_MOVED_BY: &str = "was moved by ";
pub(crate) const S_DURING_THE_DRAW_THE: &str =
    " s during the draw; the times above are of a clock that cannot be moved";

// drafts
pub(crate) const DRAFTS_ON_THIS_DEVICE: &str = "Drafts on this device";
pub(crate) const WHAT_WAS_TYPED_IN_A: &str = "What was typed in a form here and not saved yet. It lies in this browser alone and is in no record book.";
pub(crate) const WITHOUT_SCRIPTS_NO_FORM_KEEPS: &str =
    "Without scripts no form keeps a draft on this device.";
pub(crate) const WAITING_HERE: &str = "Waiting here";
pub(crate) const A_DRAFT_GOES_WHEN_ITS: &str =
    "A draft goes when its entry is saved, when you throw it away, and 14 days after it was last touched.";
pub(crate) const NO_DRAFT_WAITS_ON_THIS: &str = "No draft waits on this device.";
pub(crate) const CLEAR_THIS_DEVICE: &str = "Clear this device";
pub(crate) const ON_A_BORROWED_DEVICE: &str = "On a borrowed device";
pub(crate) const SAVE_OR_THROW_AWAY_BEFORE: &str = "Save or throw away before you hand it back. A draft holds marks, staff identifiers, the note, and for a transcript its words; ";
pub(crate) const WHOEVER_USES_THIS_BROWSER_CAN: &str = "whoever uses this browser can read it. Drafts that have run out are thrown away when a page with a form is next opened here.";

// practice
pub(crate) const JOB_CODE: &str = "job code";
pub(crate) const SOMETHING_OTHER_THAN_ONE_PERSON: &str = "something other than one person";
pub(crate) const PERSON_AT_MOST_ONCE: &str = "?person=..., at most once";
pub(crate) const PRACTISE: &str = "Practise";
pub(crate) const STAFF_IDENTIFIER: &str = "staff identifier";
pub(crate) const PRACTISE_2: &str = "Practise: ";
pub(crate) const SAY_IT_ALOUD_THEN_OPEN: &str = "Say it aloud, then open and compare. Version ";
pub(crate) const NOTHING_IS_RECORDED_HERE: &str = ". Nothing is recorded here.";
pub(crate) const THE_WHOLE_BREAKDOWN: &str = "The whole breakdown";
pub(crate) const POCKET_CARD_PDF: &str = "Pocket card (PDF)";
pub(crate) const CAUTIONS: &str = "Cautions";
pub(crate) const THE_WHOLE_JOB: &str = "The whole job";
pub(crate) const SAY_EACH_STEP_THEN_ITS: &str =
    "Say each step, then its key points, then why. Then open and compare.";
pub(crate) const FROM_THE_TEACH_BACK_OF: &str = "From the teach-back of ";
pub(crate) const SAFETY_POINTS_FIRST_2: &str = ". Safety points first.";
pub(crate) const OPEN_LAST_TIME: &str = "Open last time";
pub(crate) const NO_TEACH_BACK_OF_THIS: &str =
    "No teach-back of this version is on record yet: begin with the whole job below.";
pub(crate) const NOTHING_WAS_OPEN_SAY_THE: &str = "Nothing was open. Say the whole job once more below.";
pub(crate) const WHICH_STEP_IS_NUMBER: &str = "Which step is number ";
pub(crate) const KEY_POINT: &str = ": key point ";
pub(crate) const OF: &str = " of ";
pub(crate) const WHY: &str = "Why: ";
pub(crate) const STEP: &str = "Step ";
pub(crate) const THIS_STEP_HAS_NO_KEY: &str = "This step has no key points.";
pub(crate) const KEY_POINT_2: &str = "Key point ";
pub(crate) const WHY_2: &str = "Why?";
pub(crate) const NO_REASON_GIVEN: &str = "no reason given";

// Texts with numbers in them.

pub(crate) fn range_of_the_breakdown(low: impl std::fmt::Display, high: impl std::fmt::Display) -> String {
    format!(", {low} to {high} as the breakdown says")
}

pub(crate) fn of_points(n_marked: usize, n_points: usize) -> String {
    format!("{n_marked} of {n_points}")
}
