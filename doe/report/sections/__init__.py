"""The sections of the report page, each from what others computed."""
