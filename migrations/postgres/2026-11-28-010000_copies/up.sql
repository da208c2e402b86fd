-- Whole copies that were written of this record.
CREATE TABLE copy_made (
    id TEXT NOT NULL,
    made_at TIMESTAMP NOT NULL,
    row_count BIGINT NOT NULL,
    with_secrets BOOLEAN NOT NULL,
    written_by TEXT NOT NULL CHECK (length(written_by) BETWEEN 1 AND 100),
    PRIMARY KEY (id),
    CHECK (row_count >= 0)
);
