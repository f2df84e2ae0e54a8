"""The log: what is written where. Events and tables in, the pulls of a day out; nothing acknowledged is lost."""
