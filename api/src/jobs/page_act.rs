//! How every form of the job's page acts: once, back to the page, which tells
//! what was done.

use actix_web::{HttpResponse, body};
use serde::Serialize;
use serde_json::Value;

use super::page::view;
use crate::db::Answer;
use crate::domain::ids::JobId;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Tried, mendable, refused};
use crate::web::page::see_other;

pub(super) type Done = Result<HttpResponse, Problem>;

/// What the page tells of a write afterwards.
pub(super) enum Said {
    /// This word.
    Word(&'static str),
    /// This word, of that line.
    Line(&'static str, String),
    /// This word, of the line that was made.
    Made(&'static str),
}

impl Said {
    async fn address(self, answer: HttpResponse) -> String {
        match self {
            Self::Word(word) => word.to_owned(),
            Self::Line(word, id) => format!("{word}:{id}"),
            Self::Made(word) => {
                let body = body::to_bytes(answer.into_body()).await.unwrap_or_default();
                let made: Option<Value> = serde_json::from_slice(&body).ok();
                match made.as_ref().and_then(|made| made.get("id")?.as_str()) {
                    Some(id) => format!("{word}:{id}"),
                    None => word.to_owned(),
                }
            }
        }
    }
}

/// Reads a form, does what it asks once, and goes back to the page, which tells
/// what was done; where it is refused, the page is shown with what is wrong and
/// what was typed.
pub(super) async fn act<N, T>(
    mut ctx: Ctx,
    job: JobId,
    form: Form<Fields>,
    (name, said): (&'static str, Said),
    parse: impl FnOnce(&Fields) -> Result<N, Problem>,
    work: impl Fn(&mut ShopWrite<'_>, &JobId, &N) -> Answer<T> + Send + 'static,
) -> Done
where
    N: Send + 'static,
    T: Serialize,
{
    ctx.take(&form.value)?;
    let done = match parse(&form.value) {
        Ok(new) => {
            let id = job.clone();
            ctx.once(&form.hash, move |write| {
                let body = work(write, &id, &new)?;
                Ok(Made { status: 200, body, location: None, version: None })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(answer) => {
            let did = said.address(answer).await;
            let shop = &ctx.shop()?.code;
            Ok(see_other(&match form.value.typed("back") {
                "today" => format!("/shops/{shop}/today?did={did}"),
                _ => format!("/shops/{shop}/jobs/{job}?did={did}#{name}"),
            }))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, job, (Some(tried), None)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Nothing to read: the address says it all.
pub(super) fn nothing(_: &Fields) -> Result<(), Problem> {
    Ok(())
}
