[Version] 2.0
# MHz S RI R 50
[Number of Ports] 9
[Number of Frequencies] 1
[Network Data]
1 0 0
[End]
