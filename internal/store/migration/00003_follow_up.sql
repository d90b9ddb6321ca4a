-- +goose Up
CREATE TABLE messages (
    id        TEXT PRIMARY KEY,
    runner_id TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    kind      TEXT NOT NULL,
    state     TEXT NOT NULL,
    recipient TEXT NOT NULL,
    subject   TEXT NOT NULL,
    body      TEXT NOT NULL,
    calendar  TEXT NOT NULL,
    stop      TEXT NOT NULL,
    reason    TEXT NOT NULL,
    who_kind  TEXT NOT NULL,
    who_id    TEXT NOT NULL,
    made_us   BIGINT NOT NULL,
    ended_us  BIGINT NOT NULL
);
CREATE INDEX messages_runner ON messages (runner_id, made_us);

-- Who wants no messages.
CREATE TABLE objections (
    runner_id TEXT PRIMARY KEY REFERENCES runners (id) ON DELETE CASCADE,
    since_us  BIGINT NOT NULL
);

CREATE INDEX trail_at ON trail (at_us);

-- +goose Down
DROP INDEX trail_at;
DROP TABLE objections;
DROP TABLE messages;
