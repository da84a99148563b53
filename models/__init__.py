"""The job of Switchover: numbers, studies, comparison and storage; knows nothing of the web."""
