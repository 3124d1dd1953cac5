// What a learner has done, kept on this phone.
