[Version] 2.1
# MHz S RI R 50
[Number of Ports] 1
[Number of Frequencies] 3
[Number of Noise Frequencies] 1
[Reference] 50 50
[Network Data]
1 0.1 0
2 0.1 0
[End]
