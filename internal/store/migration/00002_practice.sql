-- +goose Up
-- What is kept of a runner's watch: no places, as package practice writes it.
CREATE TABLE activities (
    id        TEXT PRIMARY KEY,
    runner_id TEXT NOT NULL REFERENCES runners (id) ON DELETE CASCADE,
    digest    TEXT NOT NULL,
    start_us  BIGINT NOT NULL,
    run       TEXT NOT NULL,
    who_kind  TEXT NOT NULL,
    who_id    TEXT NOT NULL,
    made_us   BIGINT NOT NULL,
    UNIQUE (runner_id, digest)
);
CREATE INDEX activities_runner ON activities (runner_id, start_us);

-- +goose Down
DROP TABLE activities;
