-- +goose Up
CREATE TABLE classes (
    id         TEXT PRIMARY KEY,
    version    BIGINT NOT NULL,
    title      TEXT NOT NULL,
    day        TEXT NOT NULL,
    place      TEXT NOT NULL,
    capacity   BIGINT NOT NULL,
    coach      TEXT NOT NULL,
    note       TEXT NOT NULL,
    keep_days  BIGINT NOT NULL,
    made_us    BIGINT NOT NULL,
    changed_us BIGINT NOT NULL
);
CREATE INDEX classes_day ON classes (day);

CREATE TABLE runners (
    id          TEXT PRIMARY KEY,
    version     BIGINT NOT NULL,
    name        TEXT NOT NULL,
    contact     TEXT NOT NULL,
    birth_year  BIGINT NOT NULL,
    height_m    DOUBLE PRECISION NOT NULL,
    mass_kg     DOUBLE PRECISION NOT NULL,
    sex         TEXT NOT NULL,
    paces       TEXT NOT NULL,
    shoes       TEXT NOT NULL,
    health      TEXT NOT NULL,
    health_note TEXT NOT NULL,
    goals       TEXT NOT NULL,
    made_us     BIGINT NOT NULL,
    changed_us  BIGINT NOT NULL
);
CREATE INDEX runners_name ON runners (name);

CREATE TABLE attendance (
    class_id  TEXT NOT NULL REFERENCES classes (id) ON DELETE CASCADE,
    runner_id TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    presence  TEXT NOT NULL,
    place     BIGINT NOT NULL,
    since_us  BIGINT NOT NULL,
    PRIMARY KEY (class_id, runner_id)
);
CREATE INDEX attendance_runner ON attendance (runner_id);

CREATE TABLE consents (
    id            TEXT PRIMARY KEY,
    runner_id     TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    film          BIGINT NOT NULL,
    pictures      BIGINT NOT NULL,
    faces         BIGINT NOT NULL,
    helpers       BIGINT NOT NULL,
    runner        BIGINT NOT NULL,
    keep_days     BIGINT NOT NULL,
    given_by      TEXT NOT NULL,
    guardian      BIGINT NOT NULL,
    stated_of_age BIGINT NOT NULL,
    words         TEXT NOT NULL,
    given_us      BIGINT NOT NULL,
    withdrawn_us  BIGINT NOT NULL
);
CREATE INDEX consents_runner ON consents (runner_id, given_us);

CREATE TABLE checks (
    id          TEXT PRIMARY KEY,
    version     BIGINT NOT NULL,
    runner_id   TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    class_id    TEXT REFERENCES classes (id) ON DELETE SET NULL,
    clip_id     TEXT NOT NULL,
    kind        TEXT NOT NULL,
    state       TEXT NOT NULL,
    ask         TEXT NOT NULL,
    card        TEXT NOT NULL,
    networks    TEXT NOT NULL,
    pictures    TEXT NOT NULL,
    refusal     TEXT NOT NULL,
    corrections TEXT NOT NULL,
    made_us     BIGINT NOT NULL,
    measured_us BIGINT NOT NULL
);
CREATE INDEX checks_runner ON checks (runner_id, made_us);
CREATE INDEX checks_class ON checks (class_id, made_us);

CREATE TABLE measures (
    check_id TEXT NOT NULL REFERENCES checks (id) ON DELETE CASCADE,
    name     TEXT NOT NULL,
    side     TEXT NOT NULL,
    unit     TEXT NOT NULL,
    value    DOUBLE PRECISION NOT NULL,
    sd       DOUBLE PRECISION NOT NULL,
    low      DOUBLE PRECISION NOT NULL,
    high     DOUBLE PRECISION NOT NULL,
    n        BIGINT NOT NULL,
    PRIMARY KEY (check_id, name, side, unit)
);

CREATE TABLE decisions (
    id       TEXT PRIMARY KEY,
    check_id TEXT NOT NULL REFERENCES checks (id) ON DELETE CASCADE,
    who_kind TEXT NOT NULL,
    who_id   TEXT NOT NULL,
    area     TEXT NOT NULL,
    proposed TEXT NOT NULL,
    reason   TEXT NOT NULL,
    place    BIGINT NOT NULL,
    at_us    BIGINT NOT NULL
);
CREATE INDEX decisions_check ON decisions (check_id, place);

CREATE TABLE plans (
    id         TEXT PRIMARY KEY,
    version    BIGINT NOT NULL,
    runner_id  TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    check_id   TEXT REFERENCES checks (id) ON DELETE SET NULL,
    plan       TEXT NOT NULL,
    made_us    BIGINT NOT NULL,
    changed_us BIGINT NOT NULL
);
CREATE INDEX plans_runner ON plans (runner_id, made_us);
CREATE INDEX plans_check ON plans (check_id);

CREATE TABLE notes (
    id         TEXT PRIMARY KEY,
    version    BIGINT NOT NULL,
    runner_id  TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    check_id   TEXT REFERENCES checks (id) ON DELETE SET NULL,
    who_kind   TEXT NOT NULL,
    who_id     TEXT NOT NULL,
    text       TEXT NOT NULL,
    made_us    BIGINT NOT NULL,
    changed_us BIGINT NOT NULL
);
CREATE INDEX notes_runner ON notes (runner_id, made_us);
CREATE INDEX notes_check ON notes (check_id);

CREATE TABLE footage (
    id            TEXT PRIMARY KEY,
    runner_id     TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    class_id      TEXT REFERENCES classes (id) ON DELETE SET NULL,
    check_id      TEXT REFERENCES checks (id) ON DELETE SET NULL,
    kind          TEXT NOT NULL,
    name          TEXT NOT NULL,
    media_key     TEXT NOT NULL UNIQUE,
    sha256        TEXT NOT NULL,
    bytes         BIGINT NOT NULL,
    made_us       BIGINT NOT NULL,
    filmed_us     BIGINT NOT NULL,
    keep_until_us BIGINT NOT NULL,
    gone_us       BIGINT NOT NULL
);
CREATE INDEX footage_runner ON footage (runner_id, made_us);
CREATE INDEX footage_class ON footage (class_id);
CREATE INDEX footage_check ON footage (check_id);
CREATE INDEX footage_due ON footage (gone_us, keep_until_us);

CREATE TABLE uploads (
    id        TEXT PRIMARY KEY,
    runner_id TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    class_id  TEXT REFERENCES classes (id) ON DELETE SET NULL,
    kind      TEXT NOT NULL,
    name      TEXT NOT NULL,
    bytes     BIGINT NOT NULL,
    sha256    TEXT NOT NULL,
    ask       TEXT NOT NULL,
    filmed_us BIGINT NOT NULL,
    made_us   BIGINT NOT NULL,
    check_id  TEXT REFERENCES checks (id) ON DELETE CASCADE
);
CREATE INDEX uploads_runner ON uploads (runner_id);
CREATE INDEX uploads_class ON uploads (class_id);
CREATE INDEX uploads_check ON uploads (check_id);
CREATE INDEX uploads_made ON uploads (made_us);

-- Files that no record knows any more and that are still to be removed. It
-- outlives a process that ends between the two.
CREATE TABLE removals (
    media_key TEXT PRIMARY KEY
);

CREATE TABLE links (
    id         TEXT PRIMARY KEY,
    role       TEXT NOT NULL,
    runner_id  TEXT REFERENCES runners (id) ON DELETE CASCADE,
    class_id   TEXT REFERENCES classes (id) ON DELETE CASCADE,
    hash       TEXT NOT NULL UNIQUE,
    made_us    BIGINT NOT NULL,
    expires_us BIGINT NOT NULL,
    revoked_us BIGINT NOT NULL,
    used_us    BIGINT NOT NULL
);
CREATE INDEX links_runner ON links (runner_id);
CREATE INDEX links_class ON links (class_id);

CREATE TABLE accounts (
    id         TEXT PRIMARY KEY,
    version    BIGINT NOT NULL,
    name       TEXT NOT NULL UNIQUE,
    role       TEXT NOT NULL,
    secret     TEXT NOT NULL,
    disabled   BIGINT NOT NULL,
    made_us    BIGINT NOT NULL,
    changed_us BIGINT NOT NULL
);

CREATE TABLE sessions (
    hash       TEXT PRIMARY KEY,
    account_id TEXT NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    made_us    BIGINT NOT NULL,
    expires_us BIGINT NOT NULL
);
CREATE INDEX sessions_account ON sessions (account_id);

CREATE TABLE settings (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
);

-- The trail refers to nothing: it outlives what it names.
CREATE TABLE trail (
    id        TEXT PRIMARY KEY,
    place     BIGINT NOT NULL,
    at_us     BIGINT NOT NULL,
    who_kind  TEXT NOT NULL,
    who_id    TEXT NOT NULL,
    action    TEXT NOT NULL,
    kind      TEXT NOT NULL,
    subject   TEXT NOT NULL,
    runner_id TEXT NOT NULL
);
CREATE INDEX trail_place ON trail (place);
CREATE INDEX trail_runner ON trail (runner_id, place);

CREATE TABLE jobs (
    id          TEXT PRIMARY KEY,
    kind        TEXT NOT NULL,
    state       TEXT NOT NULL,
    check_id    TEXT REFERENCES checks (id) ON DELETE CASCADE,
    payload     TEXT NOT NULL,
    place       BIGINT NOT NULL,
    tries       BIGINT NOT NULL,
    max_tries   BIGINT NOT NULL,
    token       BIGINT NOT NULL,
    lease_us    BIGINT NOT NULL,
    after_us    BIGINT NOT NULL,
    stage       TEXT NOT NULL,
    done        BIGINT NOT NULL,
    total       BIGINT NOT NULL,
    reason      TEXT NOT NULL,
    made_us     BIGINT NOT NULL,
    finished_us BIGINT NOT NULL
);
CREATE INDEX jobs_state ON jobs (state, place);
CREATE INDEX jobs_place ON jobs (place);
CREATE INDEX jobs_check ON jobs (check_id);

-- +goose Down
DROP TABLE jobs;
DROP TABLE trail;
DROP TABLE settings;
DROP TABLE sessions;
DROP TABLE accounts;
DROP TABLE links;
DROP TABLE removals;
DROP TABLE uploads;
DROP TABLE footage;
DROP TABLE notes;
DROP TABLE plans;
DROP TABLE decisions;
DROP TABLE measures;
DROP TABLE checks;
DROP TABLE consents;
DROP TABLE attendance;
DROP TABLE runners;
DROP TABLE classes;
