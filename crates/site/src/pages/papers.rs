use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use breakdown::JobCode;
use practice::PersonId;

use super::{Segment, segment};
use crate::address::{self, quote, read_identifier, read_month};
use crate::ask::Site;
use crate::door::Paper;
use crate::problem::{Back, Problem};

/// A paper as a PDF file.
pub(crate) async fn show(
    State(site): State<Site>,
    path: Segment<(String, String)>,
) -> Result<Response, Problem> {
    let (kind, file) = segment(path)?;
    let paper = read_paper(&kind, &file)?;
    let file_name = file_name(&paper);
    let (_, (paper, bytes)) = site.ask(move |desk| desk.paper(&paper).map(|bytes| (paper, bytes))).await?;
    let bytes = bytes.ok_or_else(|| no_such_paper(&paper))?;
    let mut headers = HeaderMap::new();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("application/pdf"));
    if let Ok(disposition) = HeaderValue::from_str(&format!("inline; filename=\"{file_name}\"")) {
        headers.insert(header::CONTENT_DISPOSITION, disposition);
    }
    Ok((headers, bytes).into_response())
}

fn read_paper(kind: &str, file: &str) -> Result<Paper, Problem> {
    let Some(name) = file.strip_suffix(".pdf") else {
        return Err(Problem::BadAddress {
            place: "file name of a paper",
            found: format!("“{}”", quote(file)),
            expected: "a name that ends in .pdf".to_owned(),
        });
    };
    match kind {
        "pocket-card" => Ok(Paper::PocketCard(JobCode(read_identifier(name, "job code")?))),
        "observation-sheet" => Ok(Paper::ObservationSheet(JobCode(read_identifier(name, "job code")?))),
        "person" => Ok(Paper::PersonRecord(PersonId(read_identifier(name, "staff identifier")?))),
        "report" => Ok(Paper::MonthReport(read_month(name)?)),
        _ => Err(Problem::NotFound {
            what: format!("No paper is called “{}”.", quote(kind)),
            back: Back::Today,
        }),
    }
}

/// A file name any system takes. A person's record is named by staff identifier, never by name: the file lands in
/// a folder that others may see.
fn file_name(paper: &Paper) -> String {
    let plain = |text: &str| -> String {
        text.chars()
            .map(|c| if c.is_ascii_alphanumeric() || c == '-' || c == '_' { c } else { '-' })
            .collect()
    };
    match paper {
        Paper::PocketCard(job) => format!("pocket-card-{}.pdf", plain(&job.0)),
        Paper::ObservationSheet(job) => format!("observation-sheet-{}.pdf", plain(&job.0)),
        Paper::PersonRecord(id) => format!("record-{}.pdf", plain(&id.0)),
        Paper::MonthReport(month) => format!("report-{}.pdf", address::month_code(*month)),
    }
}

fn no_such_paper(paper: &Paper) -> Problem {
    match paper {
        Paper::PocketCard(job) | Paper::ObservationSheet(job) => super::breakdowns::no_such_job(job),
        Paper::PersonRecord(id) => super::person::no_such_person(id),
        Paper::MonthReport(month) => super::reports::no_such_report(*month),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_hold_plain_characters_only() {
        assert_eq!(file_name(&Paper::PersonRecord(PersonId("N\"1\r\n/é".into()))), "record-N-1----.pdf");
    }

    #[test]
    fn papers_and_their_addresses_agree() {
        let month = jiff::civil::Date::constant(2026, 3, 1);
        for paper in [
            Paper::PocketCard(JobCode("vein".into())),
            Paper::ObservationSheet(JobCode("central-line".into())),
            Paper::PersonRecord(PersonId("N-104".into())),
            Paper::MonthReport(month),
        ] {
            let address = address::paper(&paper);
            let mut parts = address.trim_start_matches("/papers/").splitn(2, '/');
            let (kind, file) = (parts.next().unwrap(), parts.next().unwrap());
            assert_eq!(read_paper(kind, file).unwrap(), paper);
        }
    }
}
