"""Can we have it ready: dates and chances, the calendar, each candidate's tasks and purchases."""
