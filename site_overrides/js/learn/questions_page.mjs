// The page of the questions.
