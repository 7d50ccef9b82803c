//! Whose a group's number is.

use super::*;

#[test]
fn a_group_s_number_stays_with_the_browser_that_gave_it_first() {
    let mut logged = Logged::start();
    let look = logged.code("the code to look:");
    let there = logged.there.clone();
    // Without a network nobody else is in the room; `groups` has its own tests.
    if there.starts_with("127.") {
        return;
    }
    let (first, second) = (join(&there, &look), join(&there, &look));
    let says = |who: &str, group: u8, sample: usize| {
        let what = json!({"group": group, "sample": sample});
        let answer = send(&there, &logged.run, "predict", who, &what);
        (answer.code, answer.body)
    };
    assert_eq!(says(&first, 3, 1).0, 200);
    let (code, words) = says(&second, 3, 0);
    assert!(code == 409 && words.contains("ask your teacher"), "{words}");
    assert_eq!(says(&first, 3, 0).0, 200, "who has it may change it");
    // Who was refused for another reason has not taken the number.
    assert_eq!(says(&first, 4, 7).0, 409);
    assert_eq!(says(&second, 4, 0).0, 200);
    // The teacher speaks for every group, and frees a number.
    let teacher = json!({"group": 3, "sample": 1});
    assert_eq!(logged.send("predict", &teacher).0, 200);
    let free = json!({"do": "free-group", "group": 3});
    let by_pupil = send(&there, &logged.run, "act", &second, &free);
    assert_eq!(by_pupil.code, 403);
    assert_eq!(logged.send("act", &free).0, 200);
    assert_eq!(
        logged.send("act", &free),
        (409, "Nobody has that number.".into())
    );
    assert_eq!(says(&second, 3, 0).0, 200);
    assert_eq!(says(&first, 3, 1).0, 409);
    logged.has_in_order(&[" predict 3=moss\n", " predict 4=slate\n"]);
    logged.end();
}
