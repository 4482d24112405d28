-- When the waste container of a kind of bath was taken away. What went into it since is counted from baths.
CREATE TABLE emptied_containers (
    emptied_id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    emptied_utc TEXT NOT NULL,
    emptied_by TEXT NOT NULL DEFAULT ''
) STRICT;
