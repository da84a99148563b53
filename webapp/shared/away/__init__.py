"""What leaves the server: the short summary, the picture for a chat, the code, the study's file."""
