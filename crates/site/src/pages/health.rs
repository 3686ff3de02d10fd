use axum::extract::State;

use crate::ask::Site;
use crate::problem::Problem;

/// One line for scripts: the program answers and so does its desk.
pub(crate) async fn show(State(site): State<Site>) -> Result<String, Problem> {
    let about = site.about().await?;
    Ok(format!("ok wardwright {}\n", about.version))
}
