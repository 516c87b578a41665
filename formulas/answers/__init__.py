"""The wish and the answer as typed values: what contracts say and saved blends keep."""
