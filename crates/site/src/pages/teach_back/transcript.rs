//! A transcript handed in, its proposals decided on, summed up and saved.

use axum::Router;
use axum::extract::multipart::{Multipart, MultipartRejection};
use axum::extract::rejection::QueryRejection;
use axum::extract::{DefaultBodyLimit, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use breakdown::{Breakdown, JobCode};
use desk::TeachBackForm;
use jiff::civil::DateTime;
use maud::{Markup, html};
use practice::{EventKind, PersonId};
use uuid::Uuid;

use super::beside::clock;
use super::confirm::{self, Confirm};
use super::live::who_and_when;
use super::typed::{OrderHeard, Typed};
use super::{
    Wanted, Whither, about_whom, as_form, ask_form, choose, hidden, read_entry, read_version, result,
};
use crate::address::{self, read_identifier};
use crate::ask::Site;
use crate::door::{About, HandedIn, HeardFrom, Recording, Refusal};
use crate::form::{self, Posted, Sent, refusals};
use crate::pages::person::no_such_person;
use crate::pages::upload;
use crate::parts::{name, section};
use crate::problem::Problem;
use crate::sheet::{self, Place, Script};
use crate::words::spoken;

/// Most bytes of a transcript with what is typed beside it. The reader takes 2 MB; a form writes some signs as three.
const LARGEST: usize = 6_500_000;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/teach-back/transcript", get(open).post(take))
        .route("/teach-back/confirm", post(decide))
        .layer(DefaultBodyLimit::max(LARGEST))
}

/// The form on which a transcript is handed in.
async fn open(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Response, Problem> {
    let Ok(Query(wanted)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: spoken::SOMETHING_OTHER_THAN_ONE_PERSON.to_owned(),
            expected: spoken::PERSON_BREAKDOWN_EACH_AT_MOST.to_owned(),
        });
    };
    if wanted.person.is_empty() || wanted.breakdown.is_empty() {
        let whither = Whither {
            address: "/teach-back/transcript",
            title: spoken::A_TEACH_BACK_FROM_ITS,
            lead: spoken::THE_PROGRAM_PROPOSES_A_MARK,
        };
        return choose(&site, &wanted, &whither).await.map(IntoResponse::into_response);
    }
    let person = PersonId(read_identifier(&wanted.person, spoken::STAFF_IDENTIFIER)?);
    let job = JobCode(read_identifier(&wanted.breakdown, spoken::JOB_CODE)?);
    if wanted.entry.is_empty() {
        let address = format!("{}&entry={}", address::hand_in_transcript(&person, &job), Uuid::now_v7());
        return Ok(Redirect::to(&address).into_response());
    }
    let entry = read_entry(&wanted.entry)?;
    let version = read_version(&wanted.version)?;
    let (about, now, form) = ask_form(&site, &person, &job, version).await?;
    let typed = Typed::blank(entry, &form, now);
    Ok(hand_in(&site, &about, &form, &typed, "", &[]).into_response())
}

fn hand_in(
    site: &Site,
    about: &About,
    form: &TeachBackForm,
    typed: &Typed,
    pasted: &str,
    faults: &[Refusal],
) -> Markup {
    let content = html! {
        header.opening {
            h1 { (spoken::TRANSCRIPT_OF) (name(&form.name)) }
            p.lead { (about_whom(form)) }
            p.lead { (spoken::THE_PROGRAM_PROPOSES_A_MARK_2) }
            p.private { (spoken::FOR_THIS_PERSON_AND_THEIR) }
        }
        (refusals(faults))
        form.hand-in method="post" action="/teach-back/transcript" enctype="multipart/form-data" {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="person" value=(form.person);
            input type="hidden" name="breakdown" value=(form.breakdown.code);
            input type="hidden" name="version" value=(form.breakdown.version);
            p.kept #kept role="status" {}
            (section("who", spoken::WHO_LISTENED, None, &who_and_when(form, typed)))
            (section("words", spoken::THE_WORDS, Some(html! { p { (spoken::TEXT_ONLY_NO_AUDIO_IS) } }), &html! {
                p.field {
                    label for="file" { (spoken::TRANSCRIPT_FILE_WEBVTT_SRT_SBV) }
                    input #file type="file" name="file";
                }
                p.field {
                    label for="pasted" { (spoken::OR_THE_WORDS_PASTED) }
                    textarea #pasted name="pasted" rows="10" dir="auto" spellcheck="false" { (pasted) }
                }
                p.actions { button type="submit" { (spoken::PROPOSE_MARKS) } }
                p.note { (spoken::NOTHING_IS_WRITTEN_YET_PATIENTS) }
            }))
        }
    };
    let title = format!("{}{}", spoken::TRANSCRIPT_OF, form.name);
    sheet::page_with(about, Place::People, &title, &content, &[Script::Drafts])
}

/// A transcript as it was sent: heard, and laid out to be decided on.
async fn take(
    State(site): State<Site>,
    sent: Result<Multipart, MultipartRejection>,
) -> Result<Response, Problem> {
    let (fields, file) = upload::parts(sent, LARGEST).await?;
    let posted = form::known(&site, fields)?;
    let (about, now, form, entry) = ask(&site, &posted).await?;
    let (typed, _) = Typed::read(entry, &form, &posted, now);
    let pasted = posted.lines("pasted");
    let mut faults: Vec<Refusal> = posted.stale.iter().cloned().collect();
    let bytes = match (file.is_empty(), pasted.trim().is_empty()) {
        (false, true) => file,
        (true, false) => pasted.clone().into_bytes(),
        (both_empty, _) => {
            let (found, to_do) = if both_empty {
                (spoken::NO_FILE_AND_NO_WORDS, spoken::CHOOSE_THE_FILE_OR_PASTE)
            } else {
                (spoken::A_FILE_AND_PASTED_WORDS, spoken::EMPTY_ONE_OF_THE_TWO)
            };
            faults.push(Refusal::new(spoken::THE_WORDS, found, spoken::A_TRANSCRIPT_ONCE, to_do));
            Vec::new()
        }
    };
    if !faults.is_empty() {
        return Ok(unread(&site, &about, &form, &typed, &pasted, &faults));
    }
    match hear(&site, form.breakdown.clone(), bytes).await? {
        HandedIn::Unreadable(faults) => Ok(unread(&site, &about, &form, &typed, &pasted, &faults)),
        HandedIn::Heard(heard) => {
            let confirm = Confirm { form: &form, typed: &typed, heard: &heard, keep: false };
            Ok(confirm::page(&site, &about, &confirm, &[]).into_response())
        }
    }
}

fn unread(
    site: &Site,
    about: &About,
    form: &TeachBackForm,
    typed: &Typed,
    pasted: &str,
    faults: &[Refusal],
) -> Response {
    (StatusCode::UNPROCESSABLE_ENTITY, hand_in(site, about, form, typed, pasted, faults)).into_response()
}

/// Decisions as they stand: shown again, summed up, or saved.
async fn decide(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = form::read_up_to(&site, sent, LARGEST)?;
    let (about, now, form, entry) = ask(&site, &posted).await?;
    let (mut typed, mut faults) = Typed::read(entry, &form, &posted, now);
    let text = posted.lines("transcript");
    let heard = match hear(&site, form.breakdown.clone(), text.clone().into_bytes()).await? {
        HandedIn::Heard(heard) => heard,
        HandedIn::Unreadable(refusals) => {
            return Ok(unread(&site, &about, &form, &typed, &text, &refusals));
        }
    };
    let keep = posted.text("keep") == "yes" && !heard.lines.is_empty();
    let wants = posted.text("do").to_owned();
    if wants == "take-sure" {
        let sure = heard.proposed.items.iter().filter(|each| heard.same_job && !each.needs_a_look());
        for proposed in sure {
            if !typed.left.contains(&proposed.item) {
                typed.items.entry(proposed.item).or_insert((proposed.mark, String::new()));
            }
        }
    }
    times(&mut typed, &heard);
    let confirm = Confirm { form: &form, typed: &typed, heard: &heard, keep };
    if wants != "summary" && wants != "save" {
        let shown: Vec<Refusal> = posted.stale.iter().cloned().collect();
        return Ok(confirm::page(&site, &about, &confirm, &shown).into_response());
    }
    faults.extend(posted.stale.clone());
    faults.extend(undecided(&confirm));
    let mut draft = match typed.draft(&form) {
        Ok(draft) if faults.is_empty() => draft,
        Ok(_) => return Ok(refuse(&site, &about, &confirm, &faults)),
        Err(more) => {
            faults.extend(more);
            return Ok(refuse(&site, &about, &confirm, &faults));
        }
    };
    let EventKind::TeachBackHeard { person, teachback } = &mut draft.what else {
        return Err(Problem::Failed(spoken::A_TEACH_BACK_BECAME_ANOTHER.to_owned()));
    };
    let mut proposed = heard.proposed.clone();
    proposed.transcript = keep.then(|| heard.text.clone());
    teachback.proposed = Some(Box::new(proposed));
    let (person, teachback) = (person.clone(), teachback.clone());
    if wants == "save" {
        let (about, recording) = site.record(draft).await?;
        return match recording {
            Recording::Recorded | Recording::AlreadyThere => {
                Ok(Redirect::to(&address::teach_back(entry)).into_response())
            }
            Recording::Refused(faults) => Ok(refuse(&site, &about, &confirm, &faults)),
        };
    }
    let (asked, when, by) = (person.clone(), draft.happened, draft.by.clone());
    let (about, preview) =
        site.ask(move |desk| desk.teach_back_preview(&asked, &teachback, when, &by)).await?;
    let preview = preview.ok_or_else(|| no_such_person(&person))?;
    let mut carried = vec![("transcript".to_owned(), heard.text.clone())];
    if keep {
        carried.push(("keep".to_owned(), "yes".to_owned()));
    }
    let action = "/teach-back/confirm";
    Ok(result::before_saving(&site, &about, &form, &typed, &preview, action, &carried).into_response())
}

fn refuse(site: &Site, about: &About, confirm: &Confirm<'_>, faults: &[Refusal]) -> Response {
    (StatusCode::UNPROCESSABLE_ENTITY, confirm::page(site, about, confirm, faults)).into_response()
}

/// An item that was said has the time of the words it was proposed from.
fn times(typed: &mut Typed, heard: &HeardFrom) {
    for (item, (mark, time)) in &mut typed.items {
        let at = heard.proposed.item(*item).and_then(teachback::ProposedItem::said_at_s);
        *time = at.filter(|_| mark.is_said()).map_or(String::new(), |at| at.to_string());
    }
}

/// Nothing is confirmed by leaving it alone: every item and every order that seems turned round is decided.
fn undecided(confirm: &Confirm<'_>) -> Option<Refusal> {
    let proposed = &confirm.heard.proposed;
    let items = confirm.undecided();
    let orders = confirm.typed.orders.iter().filter(|(first, then, heard)| {
        let is_proposed =
            proposed.order_errors.iter().any(|error| error.first == *first && error.then == *then);
        is_proposed && *heard == OrderHeard::NotMarked
    });
    let named = items.iter().map(|each| match each.at_s {
        Some(at) => format!("{} at {}", each.item, clock(at)),
        None => each.item.to_string(),
    });
    let orders: Vec<String> =
        orders.map(|(first, then, _)| format!("the order of {first} and {then}")).collect();
    let n = items.len() + orders.len();
    if n == 0 {
        return None;
    }
    let words: Vec<String> = named.chain(orders).collect();
    let shown = words.iter().take(12).cloned().collect::<Vec<_>>().join(", ");
    let more = if words.len() > 12 { format!(" and {} more", words.len() - 12) } else { String::new() };
    Some(Refusal::new(
        spoken::DECISIONS,
        format!("{n} without one: {shown}{more}"),
        spoken::A_MARK_OR_NOT_JUDGED,
        spoken::LISTEN_WHERE_THE_PAGE_SAYS,
    ))
}

async fn hear(site: &Site, breakdown: Breakdown, bytes: Vec<u8>) -> Result<HandedIn, Problem> {
    site.ask(move |desk| desk.hear(&breakdown, &bytes)).await.map(|(_, heard)| heard)
}

async fn ask(site: &Site, posted: &Posted) -> Result<(About, DateTime, TeachBackForm, Uuid), Problem> {
    let person = PersonId(hidden(posted, "person", spoken::STAFF_IDENTIFIER)?);
    let job = JobCode(hidden(posted, "breakdown", spoken::JOB_CODE)?);
    let entry = read_entry(posted.text("entry")).map_err(as_form)?;
    let version = read_version(posted.text("version")).map_err(as_form)?;
    let (about, now, form) = ask_form(site, &person, &job, version).await?;
    Ok((about, now, form, entry))
}
