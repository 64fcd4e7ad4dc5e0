"""The motion half: belts, motors, drives and what they let the head do."""
