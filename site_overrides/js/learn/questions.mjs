// Short questions: drawn, judged.
