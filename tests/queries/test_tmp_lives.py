import time
from datetime import date
from hypothesis import given, settings, HealthCheck
from tests.lives import gardens
from perennia.store.identify import identified
from perennia.store.schemas import to_tables
from perennia.checking.batch import check
T=[0,0,0]
@settings(max_examples=60, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
@given(gardens())
def t(records):
    T[0]+=1; T[2]+=len(records)
    t0=time.time()
    check(identified(to_tables(records)), {}, placed_labels=(), today=date(2025,1,1))
    T[1]+=time.time()-t0
def test_x():
    t(); print(T)
