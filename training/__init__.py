"""Skills, certificates, and the one question: may this person do this, here, now?"""
