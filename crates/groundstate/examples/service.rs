//! The library inside a service: workers that take runs as they come and answer each with an outcome or with what is
//! wrong. A bad request is an answer, never the end of a worker.
//!
//!     cargo run -p groundstate --example service < REQUESTS
//!
//! A request is one line of JSON, `{"id": "...", "method": "ZN-ROOF-W", "table": "role,label,...\n..."}`, an answer as
//! well. Lines stand here for whatever carries requests: HTTP, a queue, a socket.
#![allow(missing_docs)]

use std::collections::BTreeMap;
use std::io::{self, BufRead, Write};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex};
use std::thread;

use groundstate::Error;
use groundstate::method::Method;
use groundstate::reduce::reduce;
use groundstate::run::Run;
use groundstate::wire::Layout;
use serde_json::{Value, json};

const WORKERS: usize = 2;

/// The methods of the laboratory, read once and shared: a method is plain data, and reducing changes nothing.
struct Service {
    methods: BTreeMap<String, Method>,
}

impl Service {
    fn new(texts: &[&str]) -> Result<Self, Error> {
        let read = |text: &&str| Method::from_toml(text).map(|method| (method.id.to_string(), method));
        Ok(Service { methods: texts.iter().map(read).collect::<Result<_, _>>()? })
    }

    /// The answer to one request.
    fn answer(&self, request: &str) -> Value {
        let request: Value = match serde_json::from_str(request) {
            Ok(request) => request,
            Err(error) => return json!({"id": null, "status": 2, "problems": [error.to_string()]}),
        };
        let text = |member: &str| request[member].as_str().unwrap_or_default();
        let Some(method) = self.methods.get(text("method")) else {
            let known: Vec<&String> = self.methods.keys().collect();
            let what = format!("there is no method {:?}; there are {known:?}", text("method"));
            return json!({"id": request["id"], "status": 2, "problems": [what]});
        };
        match Run::from_csv(text("table")).and_then(|run| reduce(&run, method)) {
            Ok(outcome) => {
                let document: Value = serde_json::from_str(&outcome.to_json(Layout::Compact)).unwrap_or_default();
                json!({"id": request["id"], "status": outcome.standing().exit_status(), "outcome": document})
            }
            Err(error) => {
                let problems: Vec<String> = error.problems().iter().map(ToString::to_string).collect();
                json!({"id": request["id"], "status": 2, "problems": problems})
            }
        }
    }
}

fn work(service: &Service, requests: &Mutex<Receiver<String>>, answers: &Sender<Value>) {
    loop {
        let next = match requests.lock() {
            Ok(requests) => requests.recv(),
            Err(_) => return,
        };
        let Ok(request) = next else { return };
        if answers.send(service.answer(&request)).is_err() {
            return;
        }
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let service = Arc::new(Service::new(&[
        include_str!("../../../python/groundstate/demo/roof_water.toml"),
        include_str!("../../../python/groundstate/demo/gutter_sediment.toml"),
    ])?);
    let (request, requests) = mpsc::channel();
    let (answer, answers) = mpsc::channel();
    let requests = Arc::new(Mutex::new(requests));
    let workers: Vec<_> = (0..WORKERS)
        .map(|_| {
            let (service, requests, answer) = (Arc::clone(&service), Arc::clone(&requests), answer.clone());
            thread::spawn(move || work(&service, &requests, &answer))
        })
        .collect();
    drop(answer);
    let writer = thread::spawn(move || -> io::Result<()> {
        let mut out = io::stdout().lock();
        answers.iter().try_for_each(|answer| writeln!(out, "{answer}"))
    });
    for line in io::stdin().lock().lines() {
        let line = line?;
        if !line.trim().is_empty() {
            request.send(line)?;
        }
    }
    drop(request);
    for worker in workers {
        worker.join().map_err(|_| "a worker broke off")?;
    }
    writer.join().map_err(|_| "the writer broke off")??;
    Ok(())
}
