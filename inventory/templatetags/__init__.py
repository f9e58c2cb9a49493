"""What templates may say."""
