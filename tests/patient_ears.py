"""The ears' process as it is, but for its patience: where a machine has much else to do, slow is not hung.

Run as `python -m tests.patient_ears`, by the proof of the yard.
"""

from callout.hearing import ears_worker, third_opinion, vosk_ear

LONG = 1800.0  # seconds

if __name__ == "__main__":
    vosk_ear._SECONDS = LONG
    third_opinion.PATIENCE = LONG
    ears_worker.main()
