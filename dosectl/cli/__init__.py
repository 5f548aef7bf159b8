"""What a person types. Talks to the daemon over the bus and reads the journal; decides nothing, writes no sentence on water."""
