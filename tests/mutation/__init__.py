"""One small wrong change at a time: which of them does no test notice?"""
