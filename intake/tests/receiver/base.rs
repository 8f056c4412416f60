//! The database under it: one SQL for both, all or nothing, versions.

use crate::support::Place;
use steerwright_intake::database::{Database, DatabaseError, Statement};

fn count(sql: &'static str) -> Statement {
    Statement::new(sql, [])
}

#[tokio::test(flavor = "multi_thread")]
async fn all_or_nothing() {
    let place = Place::new().await;
    let database = Database::open(&place.database).await.unwrap();
    let add = |name: &str, hash: u8| {
        Statement::new(
            "INSERT INTO senders (name, token_hash, added_at) VALUES ($1, $2, $3) ON CONFLICT (name) DO NOTHING",
            [name.into(), [hash; 32].into(), 0.into()],
        )
        .changing_one()
    };
    database.one(add("a", 1)).await.unwrap();
    let overtaken = database.run(vec![add("b", 2), add("a", 3)]).await;
    assert!(matches!(overtaken, Err(DatabaseError::Overtaken)));
    let error = database.run(vec![add("c", 4), add("d", 4)]).await;
    assert!(matches!(error, Err(DatabaseError::Sqlite(_) | DatabaseError::Postgres(_))));
    let names = database.one(count("SELECT name FROM senders ORDER BY name")).await.unwrap();
    assert_eq!(names.rows.len(), 1, "neither b nor c nor d");
    // And the connection is as good as before.
    database.run(vec![add("b", 2), add("c", 3)]).await.unwrap();
    let mut row = database.one(count("SELECT count(*) FROM senders")).await.unwrap().rows.remove(0);
    assert_eq!(row.int().unwrap(), 3);
    assert!(row.int().is_err(), "there is one column");
}

#[tokio::test(flavor = "multi_thread")]
async fn values_come_back_as_they_went() {
    let place = Place::new().await;
    let database = Database::open(&place.database).await.unwrap();
    let text = "\u{1F6B2} ''; DROP TABLE senders; -- \u{202e}\n";
    for (at, number) in [i64::MIN, -1, 0, i64::MAX].into_iter().enumerate() {
        let name = format!("{text}{at}");
        let hash = [u8::try_from(at).unwrap(); 32];
        let statement = Statement::new(
            "INSERT INTO senders (name, token_hash, added_at, closed_at) VALUES ($1, $2, $3, $4)",
            [name.as_str().into(), hash.into(), number.into(), (at == 1).then_some(number).into()],
        );
        database.one(statement).await.unwrap();
        let statement = Statement::new(
            "SELECT name, token_hash, added_at, closed_at FROM senders WHERE name = $1",
            [name.as_str().into()],
        );
        let mut row = database.one(statement).await.unwrap().rows.remove(0);
        assert_eq!(row.text().unwrap(), name);
        assert_eq!(row.bytes().unwrap(), hash);
        assert_eq!(row.int().unwrap(), number);
        assert_eq!(row.maybe_int().unwrap(), (at == 1).then_some(number));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn opened_by_many_at_once() {
    let place = Place::new().await;
    let opened: Vec<_> = (0..8)
        .map(|_| {
            let address = place.database.clone();
            tokio::spawn(async move { Database::open(&address).await.map(drop) })
        })
        .collect();
    for opened in opened {
        opened.await.unwrap().unwrap();
    }
    let database = Database::open(&place.database).await.unwrap();
    let mut row = database.one(count("SELECT version FROM intake_version")).await.unwrap().rows.remove(0);
    assert_eq!(row.int().unwrap(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_newer_database_is_left_alone() {
    let place = Place::new().await;
    let database = Database::open(&place.database).await.unwrap();
    database.one(count("UPDATE intake_version SET version = 99")).await.unwrap();
    let refused = Database::open(&place.database).await.map(drop);
    assert!(matches!(refused, Err(DatabaseError::Newer { found: 99, known: 2 })), "{refused:?}");
    let mut row = database.one(count("SELECT version FROM intake_version")).await.unwrap().rows.remove(0);
    assert_eq!(row.int().unwrap(), 99);
}

#[tokio::test(flavor = "multi_thread")]
async fn addresses_that_are_none_are_refused_without_their_password() {
    for address in
        ["", "mysql://u:secret@h/d", "postgres://u:secret@[::1/d", "intake.sqlite", "sqlite:/nowhere/at/all"]
    {
        let refused = Database::open(address).await.map(drop).unwrap_err().to_string();
        assert!(!refused.contains("secret"), "{refused}");
    }
}
