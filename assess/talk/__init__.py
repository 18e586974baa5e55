"""What is asked, agreed, planned and said to the client: data with reasons, and pure rules.

Nothing here diagnoses, and nothing here decides: answers lead on, to waiting, to the piercer, or
to a doctor first.
"""
