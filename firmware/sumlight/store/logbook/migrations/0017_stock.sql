-- What lies on the shelf: rolls of resist, metal, stencils. content is what each is and what was measured of it, as
-- craft.stock describes it. ended_utc is empty while it is there.
CREATE TABLE stock (
    stock_id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    content TEXT NOT NULL CHECK (json_valid(content)),
    noted_utc TEXT NOT NULL,
    noted_by TEXT NOT NULL DEFAULT '',
    ended_utc TEXT
) STRICT;
CREATE INDEX stock_here ON stock (stock_id) WHERE ended_utc IS NULL;

-- Which panel of a job took what: once each, however many sides and steps.
CREATE TABLE stock_uses (
    stock_id INTEGER NOT NULL REFERENCES stock (stock_id),
    job_panel_id INTEGER NOT NULL REFERENCES job_panels (job_panel_id),
    used_utc TEXT NOT NULL,
    PRIMARY KEY (stock_id, job_panel_id)
) STRICT;
CREATE INDEX stock_uses_by_panel ON stock_uses (job_panel_id);
