-- What was fed, so that limits on a substance still count a feeder that left the settings or got another name. NULL in older rows.
ALTER TABLE ledger ADD COLUMN substance TEXT;
