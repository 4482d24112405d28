-- Each record that is begun or changed gets the next number, in the transaction that writes it: whoever copies the
-- records elsewhere goes by these numbers and needs no list of what is still to be sent. mark is drawn once for each
-- number, so that a restored or copied file is told from its original as soon as the two part. row_id is the record's
-- own number in its table.
CREATE TABLE changes (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL,
    row_id INTEGER NOT NULL,
    mark TEXT NOT NULL DEFAULT (lower(hex(randomblob(8))))
) STRICT;
CREATE INDEX changes_by_record ON changes (kind, row_id, seq);

INSERT INTO changes (kind, row_id) SELECT 'exposure', exposure_id FROM exposures ORDER BY exposure_id;
INSERT INTO changes (kind, row_id) SELECT 'fault', fault_id FROM faults ORDER BY fault_id;
INSERT INTO changes (kind, row_id) SELECT 'lamp_reading', reading_id FROM lamp_readings ORDER BY reading_id;
INSERT INTO changes (kind, row_id) SELECT 'tube', tube_id FROM tubes ORDER BY tube_id;
INSERT INTO changes (kind, row_id) SELECT 'calibration', calibration_id FROM calibrations ORDER BY calibration_id;
INSERT INTO changes (kind, row_id) SELECT 'tablet_reading', reading_id FROM tablet_readings ORDER BY reading_id;
INSERT INTO changes (kind, row_id) SELECT 'job_panel', job_panel_id FROM job_panels ORDER BY job_panel_id;
INSERT INTO changes (kind, row_id) SELECT 'bath', bath_id FROM baths ORDER BY bath_id;

CREATE TRIGGER exposure_begun AFTER INSERT ON exposures
BEGIN INSERT INTO changes (kind, row_id) VALUES ('exposure', NEW.exposure_id); END;
CREATE TRIGGER exposure_changed AFTER UPDATE OF outcome, doubtful, utc_unsure, verdict ON exposures
BEGIN INSERT INTO changes (kind, row_id) VALUES ('exposure', NEW.exposure_id); END;
CREATE TRIGGER fault_raised AFTER INSERT ON faults
BEGIN INSERT INTO changes (kind, row_id) VALUES ('fault', NEW.fault_id); END;
CREATE TRIGGER fault_cleared AFTER UPDATE OF cleared_utc ON faults
BEGIN INSERT INTO changes (kind, row_id) VALUES ('fault', NEW.fault_id); END;
CREATE TRIGGER lamps_read AFTER INSERT ON lamp_readings
BEGIN INSERT INTO changes (kind, row_id) VALUES ('lamp_reading', NEW.reading_id); END;
CREATE TRIGGER tube_fitted AFTER INSERT ON tubes
BEGIN INSERT INTO changes (kind, row_id) VALUES ('tube', NEW.tube_id); END;
CREATE TRIGGER tube_changed AFTER UPDATE ON tubes
BEGIN INSERT INTO changes (kind, row_id) VALUES ('tube', NEW.tube_id); END;
CREATE TRIGGER calibration_made AFTER INSERT ON calibrations
BEGIN INSERT INTO changes (kind, row_id) VALUES ('calibration', NEW.calibration_id); END;
CREATE TRIGGER tablet_read AFTER INSERT ON tablet_readings
BEGIN INSERT INTO changes (kind, row_id) VALUES ('tablet_reading', NEW.reading_id); END;
CREATE TRIGGER calibration_withdrawn AFTER DELETE ON calibrations
BEGIN INSERT INTO changes (kind, row_id) VALUES ('calibration', OLD.calibration_id); END;
CREATE TRIGGER tablet_reading_withdrawn AFTER DELETE ON tablet_readings
BEGIN INSERT INTO changes (kind, row_id) VALUES ('tablet_reading', OLD.reading_id); END;
CREATE TRIGGER job_panel_begun AFTER INSERT ON job_panels
BEGIN INSERT INTO changes (kind, row_id) VALUES ('job_panel', NEW.job_panel_id); END;
CREATE TRIGGER job_panel_changed AFTER UPDATE ON job_panels
BEGIN INSERT INTO changes (kind, row_id) VALUES ('job_panel', NEW.job_panel_id); END;
CREATE TRIGGER job_step_noted AFTER INSERT ON job_steps
BEGIN INSERT INTO changes (kind, row_id) VALUES ('job_panel', NEW.job_panel_id); END;
CREATE TRIGGER job_step_changed AFTER UPDATE ON job_steps
BEGIN INSERT INTO changes (kind, row_id) VALUES ('job_panel', NEW.job_panel_id); END;
CREATE TRIGGER job_step_taken_back AFTER DELETE ON job_steps
BEGIN INSERT INTO changes (kind, row_id) VALUES ('job_panel', OLD.job_panel_id); END;
CREATE TRIGGER bath_mixed AFTER INSERT ON baths
BEGIN INSERT INTO changes (kind, row_id) VALUES ('bath', NEW.bath_id); END;
CREATE TRIGGER bath_changed AFTER UPDATE ON baths
BEGIN INSERT INTO changes (kind, row_id) VALUES ('bath', NEW.bath_id); END;
CREATE TRIGGER bath_used AFTER INSERT ON bath_panels
BEGIN INSERT INTO changes (kind, row_id) VALUES ('bath', NEW.bath_id); END;
CREATE TRIGGER bath_use_changed AFTER UPDATE ON bath_panels
BEGIN INSERT INTO changes (kind, row_id) VALUES ('bath', NEW.bath_id); END;
CREATE TRIGGER bath_use_taken_back AFTER DELETE ON bath_panels
BEGIN INSERT INTO changes (kind, row_id) VALUES ('bath', OLD.bath_id); END;
