"""Did flowers set, and what pattern do the failures follow: truss, position, date, load?"""

from perennia.analysis.causes.setting.pod_set import PodSet, pod_set

__all__ = ["PodSet", "pod_set"]
