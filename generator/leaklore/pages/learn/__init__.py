"""Pages for trainers and learners: exercises made of real cases, questions, progress on the phone, words for customers."""
