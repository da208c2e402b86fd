-- Tries to come in, by a hash of the name that was tried: a new start of the program
-- forgets none. The row without a name is what tries wait in line for.
CREATE TABLE sign_in_try (
    key_hash TEXT NOT NULL,
    tries INTEGER NOT NULL,
    last_at TIMESTAMP NOT NULL,
    PRIMARY KEY (key_hash),
    CHECK (tries >= 0)
);
INSERT INTO sign_in_try (key_hash, tries, last_at) VALUES ('', 0, '1970-01-01 00:00:00');

-- Browsers that somebody has signed in with, by a hash of what they keep.
CREATE TABLE known_device (
    token_hash TEXT NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    seen_at TIMESTAMP NOT NULL,
    PRIMARY KEY (token_hash, person_id)
);

-- What a password's hash costs on this machine, measured once.
CREATE TABLE password_cost (
    id INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
    memory_kib INTEGER NOT NULL,
    passes INTEGER NOT NULL,
    CHECK (memory_kib >= 19456 AND passes >= 2)
);
