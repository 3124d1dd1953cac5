// Pages of the learner and the trainer: listens, shows, hands over.
