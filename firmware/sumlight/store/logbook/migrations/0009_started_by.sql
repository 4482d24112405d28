-- Who gave the word to light: an operator of the page, or 'terminal' for a command line that control's group may use.
-- Empty for exposures from before this column.
ALTER TABLE exposures ADD COLUMN started_by TEXT NOT NULL DEFAULT '';
