//! Signing in and out, invitations, passwords.

use leverbook_tests::{PASSWORD, TestGym};

#[tokio::test]
async fn the_right_password_opens_the_gym() {
    let gym = TestGym::new().await;
    let mut visitor = gym.anon();
    let home = visitor.get("/");
    assert_eq!((home.status, home.location()), (303, "/sign-in?next=%2F"));
    visitor.get(home.location()).expect(200);
    let entered = visitor
        .post(
            "/sign-in",
            &[
                ("email", "Tove@quarry.example"),
                ("password", PASSWORD),
                ("next", "/"),
            ],
        )
        .expect(303);
    assert_eq!(entered.location(), "/");
    let gym_page = visitor.get("/").expect(303);
    assert_eq!(gym_page.location(), format!("/g/{}", gym.id));
    let review = visitor.get(gym_page.location()).expect(303);
    assert_eq!(review.location(), gym.path("review"));
}
