// The page of the unknown case.
