// What is kept on the phone and sent when there is signal.
